# Results of a line, ways to improve, and where to listen next.

## Message of a line

mark = Mark { $place }; { ODDS($within_foot) } that the leak is within { FOOT() } of it.
likeliest = No mark yet: likeliest { $place }; { ODDS($within_foot) } that the leak is within { FOOT() } of it.
marks_of_leaks = { $leaks } leaks were seen in holes, and no repair of them is recorded: { JOIN($places, by: "; ") }.
leaks_without_marks = No marks yet: { $leaks } leaks were seen in holes, and no repair of them is recorded; likeliest: { JOIN($places, by: "; ") }.
mark_of_leak = mark { $rank }, { $place } ({ ODDS($within_foot) } that the leak is within { FOOT() } of it)
leak_on_line = { PERCENT($probability, at: "start") } that there is a leak on this line.
also_possible = Also possible: { JOIN($places, by: "; ") }.
also_on_line = { SPAN($from_m, $to_m, outward: "yes") } ({ PERCENT($probability) })
also_on_other_line = on { $line }, about { ABOUT($chainage_m) } ({ PERCENT($probability) })
other_source = Another steady source sounds on this line.
beside_fitting = Beside this place is { $fitting }, which may sound by itself: listen again with it bypassed or shut by its owner. A leak that is fed through it falls silent too.
also_fitting = { $place } may sound by itself ({ PERCENT($probability) })
also_beyond = beyond { $place } ({ PERCENT($probability) })
fitting_sounds = It is likelier that { $fitting } sounds by itself ({ PERCENT($probability) }) than that this line leaks.
leak_beyond = The leak is likelier beyond { $end } ({ PERCENT($probability) }) than on this line.
sounds_elsewhere = What is heard is likelier another source ({ PERCENT($probability) }) than a leak on this line.
limited_by_sound = The sound limits this: ambient noise, or a leak that is not loud.
limited_by_position = Positions of the readings are too coarse: tape the stops from a known fitting.
limited_by_spacing = The readings are too far apart: listen in between.
limited_by_trace = Sweeps across are loudest beside the trace: trace the pipe again.
limited_by_shape = The level does not rise and fall as over one leak: sweep across the pipe, and listen once more with another sensor.
likelier_on_other_line = The leak is likelier on another line nearby.
no_leak_heard = No leak heard in these readings; that alone does not rule one out.
not_shown = These readings do not show whether there is a leak.
before_listening = Before listening, the probability was { PERCENT($probability) }.
more_evidence = More evidence is needed.
no_reading_on_line = No reading on this line.
not_listened_since_repair = Not listened to since the repair of { DAY($day) }.
no_usable_reading = None of its { $readings } readings can be used; the first: { $first }

## Questions instead of a verdict

ask_tape_unit = Is chainage_m in { $unit ->
    [feet] feet
    [inches] inches
    [centimetres] centimetres
   *[metres_on_foot_map] metres, and the map in feet
}? { $wrong } of its { $readings } readings do not fit the line in metres.
    .remedy = Say in a mapping which unit chainage_m is in, and check the CRS of the map.
ask_tape_end = Did the tape run from the other end of the route{ $unit ->
    [feet] , in feet
    [inches] , in inches
    [centimetres] , in centimetres
    [metres_on_foot_map] , and is the map in feet
   *[same] {""}
}? { $wrong } of its { $readings } readings do not fit the line otherwise.
    .remedy = Name the fitting at that end in chainage_from, or reverse the route in the GIS.
ask_tape_start = Where did the tape begin, and is chainage_m in metres? { $wrong } of its { $readings } readings do not fit the line.
    .remedy = Name the fitting in chainage_from, or say in a mapping which unit chainage_m is in.
ask_display = Is it a linear display, such as 0 to 100? { $wrong } of its { $readings } levels are unlike decibels.
    .remedy = Set sound_unit to scale if it is. If it is not, run the job with --trust-declarations (in Python trust_declarations=True). All lines of one sensor are judged together: a line in decibels may be asked about because of the others.
ask_depth_unit = Is depth_m of the routes in { $unit ->
    [feet] feet
   *[inches] inches
}? It is { FIGURES($depth_m, digits: 4) }, and water lines do not lie so deep in metres.
    .remedy = Say in a mapping which unit depth_m of the routes is in. If it is metres, run the job with --trust-declarations (in Python trust_declarations=True).
ask_positions = Are the positions in another CRS, or of another line? { $wrong } of its { $readings } readings do not lie on this line.
    .remedy = Check the CRS of the readings, the CRS of the routes, and line_id.

## Evidence

evidence_prior = Before any evidence, a leak is taken as { FIGURES($times, digits: 3) } times { $likelier ->
    [yes] likelier
   *[no] less likely
} than no leak.
evidence_sound = The levels are { FIGURES($times, digits: 3) } times likelier { $likelier ->
    [yes] with a leak than without.
   *[no] without a leak than with one.
}
evidence_air = The air test is { FIGURES($times, digits: 3) } times likelier { $likelier ->
    [yes] with a leak than without.
   *[no] without a leak than with one.
}
meter_stood_still = The meter stood still for { FIGURES($hours) } hours: { $times } times less likely that this pipe leaks{ $below ->
    [yes] {" "}downstream of it
   *[no] {""}
}. A loss under { LITRES($least_l) } a day would not show.
meter_turned = The meter turned{ $shut ->
    [yes] {" "}with the valve at the house shut
   *[no] {""}
}, by { LITRES($loss_l) } a day: { $times } times { $likelier ->
    [yes] likelier
   *[no] less likely
} that this pipe leaks{ $below ->
    [yes] {" "}downstream of it
   *[no] {""}
}.
meter_turned_for_house = The meter turned, by { LITRES($loss_l) } a day, and stood still with the valve at the house shut: the water is used or lost beyond that valve, and it is { $times } times less likely that this pipe leaks{ $below ->
    [yes] {" "}downstream of the meter
   *[no] {""}
}.
meter_below_line = This pipe lies upstream of the meter, which measures nothing of it.
meter_place_assumed = The place of the meter, or the direction of flow, is not known: the pipe is taken as downstream of it.
repair_verified = That verifies the repair of { DAY($day) }.
still_turns_after_repair = It still turns after the repair of { DAY($day) }: there is another leak, or water is used.
isolated_pressure = With { shut_valves } shut, the pressure at { $at } { $shows ->
    [yes] fell
    [partly] fell a little
   *[no] held
}, from { PRESSURE($before_kpa) } to { PRESSURE($after_kpa) } in { FIGURES($minutes) } minutes: { isolated_means }
isolated_flow = With { shut_valves } shut, the flow at { $at } { $shows ->
    [yes] went on
    [partly] fell, but went on
   *[no] stopped
}: { isolated_means }
isolated_meter = With { shut_valves } shut, the meter { $at } { $shows ->
    [yes] turned
   *[no] stood still
} for { FIGURES($minutes) } minutes: { isolated_means }
shut_valves = { JOIN($valves) }{ $more ->
    [0] {""}
   *[other] {" "}and { $more } more
}
isolated_means = { $times } times { $likelier ->
    [yes] likelier
   *[no] less likely
} that { $place ->
    [line] this pipe leaks.
    [span] this pipe leaks at { SPAN($from_m, $to_m) }.
    [beyond] this pipe leaks beyond { LENGTH($from_m) }.
    [before] this pipe leaks before { LENGTH($to_m) }.
    [parts] the isolated stretches of this pipe leak.
   *[none] a pipe next to this one leaks.
}
meter_may_be_stuck = The meter stood still all the same: it may be stuck. Test the meter.
fitting_was_shut = { $found ->
    [yes] The sound stopped
   *[no] The sound did not stop
} when { $fitting } was shut: { times_likelier } that it sounds by itself.
listened_beyond = { $found ->
    [yes] It is louder
   *[no] It is not louder
} at the fittings beyond { $end }: { times_likelier } that the leak is beyond it.
looked_inside = { $found ->
    [yes] Water runs
   *[no] No running water was found
} in the building: { times_likelier } that the water is used or lost beyond the customer's end.
source_looked_for = { $found ->
    [yes] Another source of sound was found
   *[no] No other source of sound was found
}: { times_likelier } that what is heard is another source.
times_likelier = it is { $times } times { $found ->
    [yes] likelier
   *[no] less likely
}
action_results_concern_nothing = What other actions showed concerns nothing that is considered on this line.
dig_saw_dry_pipe = Pipe seen dry at { SPAN($from_m, $to_m) }{ $dated ->
    [yes] {" "}on { DAY($day) }
   *[no] {""}
}.
dig_saw_leak = A leak was seen at { SPAN($from_m, $to_m) }{ $dated ->
    [yes] {" "}on { DAY($day) }
   *[no] {""}
}, and no repair is recorded.
sweep_over_pipe = The sweep across at { LENGTH($chainage_m) } is loudest over the trace, ± { ABOUT($sd_m) }.
sweep_beside = The sweep across at { LENGTH($chainage_m) } is loudest { ABOUT($offset_m) } { $side ->
    [left] left
   *[right] right
} of the trace: the trace is wrong there, or it is not this pipe.
sweep_beyond = The sweep across at { LENGTH($chainage_m) } is loudest at its outermost reading, { ABOUT($offset_m) } { $side ->
    [left] left
   *[right] right
} of the trace: the source lies there or beyond what was swept, and is hardly this pipe.
sweep_over_other_line = The sweep across at { LENGTH($chainage_m) } is louder toward line { $line }, likeliest { ABOUT($offset_m) } { $side ->
    [left] left
   *[right] right
} of the trace: the sound is probably of that line.
sweep_flat = The sweep across at { LENGTH($chainage_m) } has no clear peak: it is hardly evidence where the sound lies.
tap_teaches = Taken while { $contact } was open to a trickle, at { LENGTH($chainage_m) }: it shows how this line carries sound, and is no evidence of a leak.
air_compared = Taken with air on: it is compared with air off at its place, and not used along the line.
swept_across = Part of the sweep across the line at { LENGTH($chainage_m) }, and not used along it.

## Advice

splits_stretch = splits the likeliest stretch: if there is a leak, it is before this stop with { PERCENT($before) }, beyond it with { PERCENT($beyond) } probability
beside_stretch = beside the likeliest stretch: shows how fast the sound dies away
first_walk = first walk
first_walk_in_bracket = first walk of the stretch that the fittings point to
short_enough = Enough readings: the search zone is no longer than the { LENGTH($wanted_m) } asked for.
zone_is_short = More stops are not needed: the search zone is no longer than the { LENGTH($wanted_m) } asked for.
enough_readings = Enough readings.
more_stops_unclear = More stops like these would hardly show whether there is a leak.
more_stops_no_shorter = More stops like these would hardly shorten the search zone.
leak_not_heard = The line was walked, and the leak that other evidence shows was not heard.
read_meter_again = Close every outlet and read the meter again, as no test of it is valid.
next_action = { $action ->
    [position] Tape the stops from a known fitting, and listen again.
    [night] Listen again late at night.
    [probe] Repeat the readings with a probe pushed into the ground, only after all utilities are marked, and not where one may lie.
   *[pressure] Have the person in charge of the line raise the pressure towards its rating, and listen again.
}
until_short = Stop when the search zone is no longer than { LENGTH($wanted_m) }.
not_this_pipe = Nothing more is proposed on this line, as its own pipe is unlikely to leak: take up what else sounds.
nothing_else = Nothing else on the list is expected to tell more for its time: ask a second locator, or come back when something has changed.
walk_on = Walk on toward { $end }: { $rises ->
    [yes] the level still rises
   *[no] a leak may lie beyond the last stop
} ({ PERCENT($probability) } probability). Go on until the level falls at two stops in a row.
walk_goes_on = the walk goes on
sweep_across = Sweep across the line { $place }: seven places, two feet apart, to see whether the sound is on its trace.
read_meter = { $twice ->
    [yes] Close every outlet, and read the meter now and { DECIMALS($wait_min, digits: 0) } minutes later. Then have the owner shut the house valve slowly, and read it once more after the same time: the two show
   *[no] Close every outlet, have the owner shut the house valve slowly, and read the meter now and { DECIMALS($wait_min, digits: 0) } minutes later: it shows
} whether the loss is before the house valve or beyond it. Nobody but the owner shuts that valve, and not where it feeds fire sprinklers or people who can't be without water.{ $meanwhile ->
    [yes] {" "}Listen at the stops while you wait.
   *[no] {""}
}
close_valve = Close every outlet of the part. Have the owner's people shut { JOIN($valves) }, read the { $measure ->
    [meter] meter
    [flow] flow
   *[pressure] pressure
} at { $at }, and read it again { DECIMALS($wait_min, digits: 0) } minutes later: it shows whether the loss is in the part that is cut off.
open_trickle = Open { $fitting } to a trickle, and listen at stops beside it (common practice).
look_inside = Look in the building for water that runs: toilets, the heater's relief valve, softener, irrigation.
air_on_and_off = Listen { $place } and at a control point, with injected air on and off.
and_then = If that does not settle it, next: { $action ->
    [sweep] sweep across the line.
    [listen_beyond] listen beyond the end.
    [read_meter] have the owner shut the house valve, and read the meter.
    [close_valve] have the owner's people close a valve, by the utility's rules, and see whether the loss stays.
    [air] listen with injected air on and off, as the person in charge of the line agrees and local code allows.
    [look_inside] look for running water in the building.
    [shut_fitting] have the fitting bypassed or shut by its owner.
    [find_source] find what else sounds.
   *[listen] listen at the next stops.
}
listen_on = { $stops ->
    [one] Listen at 1 more stop
   *[other] Listen at { $stops } more stops
}: the search zone is expected to shrink by { PERCENT($less) }, to about { LENGTH($after_m) }.
listen_to_decide = { $stops ->
    [one] Listen at 1 more stop
   *[other] Listen at { $stops } more stops
} to decide whether there is a leak.
stops_at = Listen { JOIN($places, by: "; ") }.
and_more_stops = and at { $stops ->
    [one] 1 more stop
   *[other] { $stops } more stops
}
next_stop = Next stop: { $place }.
next_stop_of_some = Next stop: { $place }; { $more ->
    [one] 1 more after it
   *[other] { $more } more after it
}.
shut_fitting = Have { $fitting } bypassed by its owner, or shut if that is not possible, and listen again. A leak that is fed through it falls silent too.
listen_beyond = Listen at the fittings beyond { $end }.
trace_again = Trace the pipe again at { LENGTH($chainage_m) }: it, or a branch that is not mapped, may lie { ABOUT($offset_m) } { $side ->
    [left] to the left
   *[right] to the right
}. Then sweep across it once more there, and at two other places.
sweep_further = Sweep further to the { $side ->
    [left] left
   *[right] right
} at { LENGTH($chainage_m) }: the sound is loudest { ABOUT($offset_m) } out, where the sweep ended.
find_other_source = Find what else sounds here: shut it off, or listen when it is still.
answer_question = Answer that question, correct the data, and run the job again.
no_evidence_yet = Not listened to yet, and nothing indicates a leak here: read the meter with all outlets closed, or listen at the fittings, before walking it.
walk_first = Not listened to yet: walk { $in_bracket ->
    [yes] the stretch that the fittings point to
   *[no] the line
} with { $stops ->
    [one] 1 stop
   *[other] { $stops } stops, about { ABOUT($step_m) } apart
}, then run the job again.
walk_after_repair = Nothing was measured since the repair: read the meter twice, with no water used. If it turns, or there is no meter, walk { $in_bracket ->
    [yes] the stretch that the fittings point to
   *[no] the line
} with { $stops ->
    [one] 1 stop
   *[other] { $stops } stops, about { ABOUT($step_m) } apart
}. Then run the job again.
nothing_since_repair = Nothing measured since the repair indicates a leak: no walk is proposed.

## Table of the next actions

step_with_place = { TERM($action, kind: "step") }: { $place }
at_chainage = at { LENGTH($chainage_m) }
doubt_less = { PERCENT($share) }{ $basis ->
    [assumed] {" "}(assumed)
    [common_practice] {" "}(common practice)
   *[model] {""}
}
doubt_not_computed = { $basis ->
    [common_practice] common practice
    [rule] comes first
   *[other] not computed
}

## What else may be true of a line

what_else = What else it may be: { JOIN($each, by: "; ") }
may_be_nearby_line = a leak on { $line }, about { ABOUT($at_m) } ({ PERCENT($probability) })
may_be = { $kind ->
    [beyond_start] a leak beyond the start of the route
    [beyond_end] a leak beyond the end of the route
    [silence] nothing that sounds
   *[unknown] another source
} ({ PERCENT($probability) })

## Ways to improve

improvement_night = Listen late at night, with about { DECIMALS($quieter_db, digits: 0) } dB less ambient noise: the model expects { $effect }.
improvement_probe = Push a probe into the ground, only after all utilities are marked and not where one may lie, instead of setting down a plate: the model expects { $effect }.
improvement_spacing = Listen at one-foot steps { $marked ->
    [yes] about the likeliest place
   *[no] where the leak may be
}: the model expects { $effect }.
improvement_position = Tape three stops of the walk near the likeliest place from a fitting whose place is known: the model expects { $effect }.
improvement_trickle = Open { $fitting } to a trickle, and listen at stops beside it to learn how this line carries sound (common practice): the model expects { $effect }.
improvement_pressure = Have the person in charge of the line raise the pressure from { PRESSURE($from_kpa) } towards its rating of { PRESSURE($to_kpa) }: the model expects { $effect }.
improvement_pressure_unknown = A higher pressure makes a leak louder; by how much is not known without { $lacks ->
    [pressure] the line's pressure
   *[rating] the rating of the line
}.
effect_little = little improvement (smallest possible error { LENGTH($before_m) })
effect_less = the smallest possible error to fall from { LENGTH($before_m) } to { LENGTH($after_m) }
needs_help = { JOIN($because, by: "; ") }
because_deep = a deep line
because_plastic = plastic, which carries little sound
because_grass = grass, which carries little sound
because_quiet = no leak heard
because_wide = the leak is not narrowed down

## First survey

stretch = { $where }, { $why }: { PERCENT($probability) } of the probability, if these pipes leak.
between_fittings = Between { $from } and { $to }
beyond_fitting = Beyond { $fitting }, { SPAN($from_m, $to_m) } of the line
part_of_line = From { SPAN($from_m, $to_m) } of the line
why_loudest_two = the loudest two
why_on_path = on the way between { $loudest } and { $second }, the loudest two
why_beside = beside { $loudest }, the loudest
why_open = farther away, but the levels do not rule it out
walk_in_order = Walk it as number { $order }.
walk_it_first = Walk it first.
walk_it_first_from = Walk it first, from { $loudest }, and check that { $loudest } itself does not leak.
quiet_fittings_between = Quiet fittings lie between this stretch and louder ones: treat it as a separate source.
pipes_not_listed = Pipes not listed hold { PERCENT($probability) } of the probability.
levels_show_little = The levels at these fittings are hardly evidence for a leak.

## Meter tests

loss_not_known = The loss is not known: close every outlet and test again.
no_loss = No loss in { FIGURES($hours, digits: 3) } hours; a loss under { LITRES($least_l) } a day would not show.
loss = Loses { LITRES($loss_l) } a day{ ALIKE($low_l, $high_l) ->
    [yes] {""}
   *[no] {" "}(95 %: { LITRES($low_l, $high_l) })
}.
loss_and_hole = Loses { LITRES($loss_l) } a day{ ALIKE($low_l, $high_l) ->
    [yes] {""}
   *[no] {" "}(95 %: { LITRES($low_l, $high_l) })
}, like a hole of { DIAMETER($hole_mm) } at { PRESSURE($pressure_kpa) }.

loss_is_one_step = That is one step of the register: test over a longer time.
loss_maybe_inside = The water may also be lost inside the building: shut the valve there and test again.
tests_not_valid = { $invalid } of { $tests } tests not valid: { $why }.
tests_disagree = Its tests disagree ({ LITRES($low_l, $high_l) } a day); the latest counts. Water was used during one of them, or the leak grew. Test again.

## Step test of a district

district_shut = At night, have the owner's people shut { JOIN($valves) }{ $together ->
    [yes] {" "}together
   *[no] {""}
}, and read the flow at { JOIN($inlets) } before and after{ $several ->
    [yes] {", all at the same time"}
   *[no] {""}
}: it shows whether the loss is in the part that is cut off. Note it in isolation_tests and closed_valves, and run the step again.
district_found = The step test ends: segment { $segment } holds the loss with { PERCENT($probability) } probability.
district_ends = The step test ends, as no further closure is expected to tell enough. Segment { $segment } is the likeliest ({ PERCENT($probability) }); the loss is in one of { JOIN($segments) }{ $more ->
    [0] {""}
   *[other] {" "}and { $more } more
} with { PERCENT($together) } probability.
district_no_valve = No valve of the district may be shut, so that no step test is possible.
district_loops = No closure of up to { $valves } valves is expected to tell enough, as most parts are supplied from several sides. Have the owner's people shut further valves for the night, so that fewer ways lead to each part, and name them in boundary.
district_walk = Walk { JOIN($lines) }{ $more ->
    [0] {""}
   *[other] {" "}and { $more } more
} next: leakgeo advise, with first_walks set to all, lists the stops.

## Air tests

air_change = Air changes the level by { SIGNED($change_db, digits: 1) } dB here ({ $pairs ->
    [one] 1 pair
   *[other] { $pairs } pairs
}).
air_change_with_control = Air changes the level by { SIGNED($change_db, digits: 1) } dB here ({ $pairs ->
    [one] 1 pair
   *[other] { $pairs } pairs
}), by { SIGNED($control_db, digits: 1) } dB at the control.
air_as_likely = This is as likely if the leak sounds here as if it does not.
air_likelier = This is { $times } times likelier if the leak sounds here than if it does not.
air_less_likely = This is { $times } times less likely if the leak sounds here than if it does not.
air_confirmed = The sound here follows the air, and so comes from this line.
air_not_this = The sound here does not follow the air: it is not this leak that sounds here.
air_inconclusive = This is inconclusive.
air_no_control = Listen also at a control point, { LENGTH($control_m) } or more away, where the sound is no longer heard.
air_control_changes = The control changes too: choose a control point where the leak is no longer heard.
air_more_do_not_help = More pairs are not expected to decide: choose a control point farther away.
air_more_pairs = { $pairs ->
    [one] One more pair here and at the control may decide.
   *[other] { $pairs } more pairs here and at the control may decide.
}

# Injected air: cautions where no source is stated are common practice.
before_air = Before air goes in, have the person in charge of the line agree; local code governs. Compressed air stores energy: use oil-free air only, stay clear of plugs and caps, and bleed the air off slowly before anything is opened (common practice).
air_in_plastic = This pipe is plastic, which compressed gas can shatter (common practice), and some makers of PVC pipe allow no test with gas (ASTM D1785, section 1.2): let in air only if the pipe's maker and the local code allow it.
air_in_unknown_pipe = The material of this pipe is not known: until it is, take it as plastic, which compressed gas can shatter (common practice).
air_cautions = Set the air no higher than the regulator's limit above the line's own pressure. Shut every fixture and the valves of heaters. Have someone licensed handle a backflow device. Turn the volume low before the air goes on, and protect your ears. Never listen while the sensor is moved.
valve_cautions = Only the owner's people operate a valve. The utility's rules come first. Before a valve is shut, find out who would be without water: fire lines, hospitals, dialysis, others that can't wait. Tell customers first. Shut slowly: a fast valve makes a pressure surge. Don't let the pressure fall to nothing, as dirty water may be drawn in; the utility decides what is flushed and tested. Count the turns. Open slowly, and let the air out.

## Digs compared with marks

hit_rate = { $near } of { $digs } within one foot{ $verdict ->
    [too_few] {""}; too few to compare with what was stated
    [as_stated] {" "}({ DECIMALS($low_percent, digits: 0) } to { DECIMALS($high_percent, digits: 0) } %), as stated ({ DECIMALS($stated_percent, digits: 0) } %)
    [more] {" "}({ DECIMALS($low_percent, digits: 0) } to { DECIMALS($high_percent, digits: 0) } %), more than stated ({ DECIMALS($stated_percent, digits: 0) } %)
   *[less] {" "}({ DECIMALS($low_percent, digits: 0) } to { DECIMALS($high_percent, digits: 0) } %), less than stated ({ DECIMALS($stated_percent, digits: 0) } %)
}.

## Watch

watch_begins = Working out { $job }. After this, only what changes is worked out.
watch_waits = { $lines ->
    [one] 1 line
   *[other] { $lines } lines
}, { $worked } worked out now. Map and layers are in { $out }. Waiting for the next save; Ctrl-C ends.
watch_line_gone = no longer in the job.
watch_says_the_same = Saved; the same is said of every line.
watch_as_before = The job is again as it was; its results are in { $out }.
watch_run_awaited = This save is answered as soon as that run is done.
watch_results_before = The results written last are in { $out }.
watch_no_results = Nothing is worked out yet. Waiting for the next save; Ctrl-C ends.
watch_ended = Stopped watching; the results written last are in { $out }.

## What made some places likelier before listening

prior_fittings = { $count ->
    [one] 1 joint or fitting
   *[other] { $count } joints or fittings
}
prior_past_leaks = { $count ->
    [one] 1 past leak
   *[other] { $count } past leaks
}
prior_repairs = { $count ->
    [one] 1 repair
   *[other] { $count } repairs
}
prior_excavations = { $count ->
    [one] 1 excavation
   *[other] { $count } excavations
}
likelier_by = { JOIN($events) }{ $age ->
    [older] , and older than the pipes it joins
    [newer] , and newer than the pipes it joins
   *[alike] { "" }
}
likelier_by_age = { $age ->
    [older] older than the pipes it joins
   *[newer] newer than the pipes it joins
}
