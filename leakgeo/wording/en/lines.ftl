# What is found on a line, what helps, and where to listen next.

## Message of a line

mark = Mark at { LENGTH($chainage_m) } from the start of the route; { PERCENT($within_foot) } that there is a leak within one foot of it.
likeliest = Likeliest at { LENGTH($chainage_m) } from the start of the route; { PERCENT($within_foot) } that there is a leak within one foot of it.
leak_on_line = { PERCENT($probability, at: "start") } that there is a leak on this line.
also_possible = Also possible: { JOIN($places, by: "; ") }.
also_on_line = { SPAN($from_m, $to_m) } ({ PERCENT($probability) })
also_on_other_line = on { $line }, about { ABOUT($chainage_m) } ({ PERCENT($probability) })
other_source = Another steady source sounds on this line.
limited_by_sound = The sound limits it.
limited_by_position = The positions of the readings limit it.
limited_by_spacing = The spacing of the readings limits it.
likelier_on_other_line = The leak is likelier on a line that joins this one.
no_leak_heard = No leak heard in these readings; that alone does not rule one out.
not_shown = These readings do not show whether there is a leak.
before_listening = Before listening it was { PERCENT($probability) }.
more_evidence = It takes more evidence to tell.
no_reading_on_line = No reading on this line.
no_usable_reading = None of its { $readings } readings can be used; the first: { $first }

## Evidence

evidence_prior = Before any evidence a leak was taken to be { FIGURES($times, digits: 3) } times { $likelier ->
    [yes] likelier
   *[no] less likely
} than none.
evidence_sound = The levels are { FIGURES($times, digits: 3) } times likelier { $likelier ->
    [yes] with a leak than without.
   *[no] without a leak than with one.
}
evidence_air = The air test is { FIGURES($times, digits: 3) } times likelier { $likelier ->
    [yes] with a leak than without.
   *[no] without a leak than with one.
}

## Advice

splits_stretch = splits the likeliest stretch: given a leak, it is before it by { PERCENT($before) }, beyond it by { PERCENT($beyond) }
beside_stretch = beside the likeliest stretch: shows how fast the sound dies away
first_walk = first walk
first_walk_in_bracket = first walk of the stretch that the fittings point to
short_enough = Enough readings: the search zone is no longer than the { LENGTH($wanted_m) } asked for.
enough_readings = Enough readings.
more_stops_unclear = More stops like these would say little about whether there is a leak.
more_stops_no_shorter = More stops like these would hardly shorten the search zone.
next_action = Next: { $action ->
    [position] tape the stops from a known fitting, and listen again.
    [night] repeat the readings at a quiet hour.
    [probe] repeat the readings with a probe pushed into the ground.
    [pressure] raise the pressure towards its rating, by the one who answers for the line, and listen again.
   *[other] take another method, such as listening with air injected, on and off.
}
listen_on = { $stops ->
    [one] Listen at 1 more stop
   *[other] Listen at { $stops } more stops
}: the search zone is expected to shrink by { PERCENT($less) }, to about { LENGTH($after_m) }.
listen_to_decide = { $stops ->
    [one] Listen at 1 more stop
   *[other] Listen at { $stops } more stops
} to decide whether there is a leak.
no_evidence_yet = Not listened to yet, and nothing indicates a leak here: read the meter with all outlets closed, or listen at the fittings, before walking it.
walk_first = Not listened to yet: walk { $in_bracket ->
    [yes] the stretch that the fittings point to
   *[no] the line
} with { $stops ->
    [one] 1 stop
   *[other] { $stops } stops, about { ABOUT($step_m) } apart
}, then ask again.

## Ways to improve

improvement_night = Listen at a quiet hour, with some { DECIMALS($quieter_db, digits: 0) } dB less ambient sound: the model expects { $effect }.
improvement_probe = Push a probe into the ground instead of setting down a plate: the model expects { $effect }.
improvement_spacing = Listen at one-foot steps { $marked ->
    [yes] about the likeliest place
   *[no] where the leak may be
}: the model expects { $effect }.
improvement_pressure = Raise the pressure from { PRESSURE($from_kpa) } towards the { PRESSURE($to_kpa) } that it is rated for, by the one who answers for the line: the model expects { $effect }.
improvement_pressure_unknown = A higher pressure makes a leak louder; by how much is not known without { $lacks ->
    [pressure] the line's pressure
   *[rating] the rating of the line
}.
effect_little = little of it (least error { LENGTH($before_m) })
effect_less = the least error to fall from { LENGTH($before_m) } to { LENGTH($after_m) }
needs_help = { JOIN($because, by: "; ") }
because_deep = a deep line
because_plastic = plastic, which carries little sound
because_grass = grass, which carries little sound
because_quiet = no leak heard
because_wide = the leak is not narrowed down

## First survey

stretch = { $where }, { $why }: { PERCENT($probability) } of the odds, if these pipes leak.
between_fittings = Between { $from } and { $to }
beyond_fitting = Beyond { $fitting }, { SPAN($from_m, $to_m) } of the line
part_of_line = From { SPAN($from_m, $to_m) } of the line
why_loudest_two = the loudest two
why_on_path = on the way between { $loudest } and { $second }, the loudest two
why_beside = beside { $loudest }, the loudest
why_open = further off, yet the levels leave it open
walk_in_order = Walk it as number { $order }.
walk_it_first = Walk it first.
walk_it_first_from = Walk it first, from { $loudest }, and see that { $loudest } does not leak itself.
quiet_fittings_between = Quiet fittings lie between here and what is louder: look at it by itself.
pipes_not_listed = Pipes not listed hold { PERCENT($probability) }.
levels_show_little = The levels at these fittings are hardly evidence for a leak.

## Meter tests

loss_not_known = The loss is not known: close every outlet and test again.
no_loss = No loss in { FIGURES($hours, digits: 3) } hours; under { LITRES($least_l) } a day would not show.
loss = Loses { LITRES($loss_l) } a day{ ALIKE($low_l, $high_l) ->
    [yes] {""}
   *[no] {" "}(95 %: { LITRES($low_l, $high_l) })
}.
loss_and_hole = Loses { LITRES($loss_l) } a day{ ALIKE($low_l, $high_l) ->
    [yes] {""}
   *[no] {" "}(95 %: { LITRES($low_l, $high_l) })
}, as a hole of { DIAMETER($hole_mm) } does at { PRESSURE($pressure_kpa) }.

loss_is_one_step = That is one step of the register: test over a longer time.
loss_maybe_inside = It may be lost inside the building too: shut the valve there and test once more.
tests_not_valid = { $invalid } of { $tests } tests not valid: { $why }.
tests_disagree = Its tests disagree ({ LITRES($low_l, $high_l) } a day), and the latest counts: water was used in one, or the leak grew. Test again.

## Air tests

air_change = Air changes the level by { SIGNED($change_db, digits: 1) } dB here ({ $pairs ->
    [one] 1 pair
   *[other] { $pairs } pairs
}).
air_change_with_control = Air changes the level by { SIGNED($change_db, digits: 1) } dB here ({ $pairs ->
    [one] 1 pair
   *[other] { $pairs } pairs
}), by { SIGNED($control_db, digits: 1) } dB at the control.
air_as_likely = That is as likely if the leak sounds here as if it does not.
air_likelier = That is { $times } times likelier if the leak sounds here than if it does not.
air_less_likely = That is { $times } times less likely if the leak sounds here than if it does not.
air_confirmed = The sound here follows the air, and so comes from this line.
air_not_this = The sound here does not follow the air: it is not this leak that sounds here.
air_inconclusive = That does not decide it.
air_no_control = Listen at a control point too, { LENGTH($control_m) } off or farther, where the sound is no longer heard.
air_control_changes = The control changes too: choose one where the leak can no longer be heard.
air_more_do_not_help = More pairs are not expected to decide: choose a control point farther off.
air_more_pairs = { $pairs ->
    [one] One more pair here and at the control may decide.
   *[other] { $pairs } more pairs here and at the control may decide.
}

air_cautions = Air no more than the regulator's limit above the line's own pressure; every fixture and the valves of heaters shut; a backflow device handled by someone licensed; volume low before the air goes on, ears protected; never listen while the sensor is moved.

## Digs compared with marks

hit_rate = { $near } of { $digs } within one foot ({ DECIMALS($low_percent, digits: 0) } to { DECIMALS($high_percent, digits: 0) } %), { $verdict ->
    [as_stated] as stated
    [more] more than stated
   *[less] less than stated
} ({ DECIMALS($stated_percent, digits: 0) } %).
