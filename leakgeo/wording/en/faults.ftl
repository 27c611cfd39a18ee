# Faults of the data; .remedy is what to do.

features = { $features } features: { $problem }
no_geometry = It has no geometry.
    .remedy = Draw it.

## Readings, fittings, routes, tests and digs

between_routes = It has no line_id, and its position fits two or more routes.
    .remedy = Correct the reading or its line.
off_every_route = It has no line_id, and is farther from every route than its error explains.
    .remedy = Correct the reading or its line.
on_rejected_line = It is on line { $line }, which is rejected: { $why }
    .remedy = Correct the reading or its line.
on_unknown_line = It is on line { $line }, which no route has.
    .remedy = Correct the reading or its line.
taped_beyond_route = It was taped at { LENGTH($taped_m) } on a route of { LENGTH($route_m) }.
    .remedy = Correct the reading or its line.
off_its_route = It is { ABOUT($offset_m) } from its route, more than its error explains.
    .remedy = Correct the reading or its line.
sweeps_used = { $readings } readings are taken as { $sweeps ->
    [one] a sweep
   *[other] { $sweeps } sweeps
} across the line; { $beside } of them, beside the pipe, are not used along it.
    .remedy = Do nothing if they were meant to be beside the pipe; else correct offset_m or position_sd_m.
taps_used = { $readings } readings taken while { $contact } was open to a trickle show how this line carries sound; they are no evidence of a leak.
    .remedy = Do nothing if the fitting was open during these readings; else clear tap_open.
tap_not_on_line = It was taken while { $contact } was open, a fitting without a place on this line.
    .remedy = Correct tap_open, or give that fitting a position on this line; clear tap_open if no tap was open.
tap_not_compared = It was taken while { $contact } was open, and no reading without it is near that was taken with the same sensor, band and a known gain.
    .remedy = Listen there once more with the tap shut, and record gain_db for both.
tap_not_louder = It was taken while { $contact } was open, and is less than { DECIMALS($least_db, digits: 0) } dB louder than the line there without it.
    .remedy = Listen closer to the fitting, or open it somewhat further.
walk_off_map = The { $taped } taped distances of walk { $walk } differ from the map by about { ABOUT($off_m) }, while those of another walk agree with it; these readings are not used.
    .remedy = Check where the tape began, which way the route is drawn, and the unit of chainage_m.
tape_in_other_unit = Its { $taped } taped distances differ from the map by { ABOUT($off_m) }, and agree with it if they { $unit ->
    [feet] were in feet
    [metres_on_foot_map] were in metres, and the map in feet
    [inches] were in inches
   *[centimetres] were in centimetres
}; these readings are not used.
    .remedy = Say in a mapping which unit chainage_m is in, and check the CRS of the map.
tape_turned = Its { $taped } taped distances differ from the map by { ABOUT($off_m) }, and agree with it if they ran from the other end of the route{ $unit ->
    [feet] {" "}and were in feet
    [metres_on_foot_map] {" "}and were in metres, and the map in feet
    [inches] {" "}and were in inches
    [centimetres] {" "}and were in centimetres
   *[same] {""}
}; these readings are not used.
    .remedy = Reverse the route in the GIS, or tape from its first vertex.
tape_off_map = Its taped distances and its positions on the map differ by about { ABOUT($off_m) }; the one with the smaller error is used.
    .remedy = Check where the tape began, which way the route is drawn, and the unit of chainage_m.
tape_from_fitting = Its taped distances and its positions on the map differ by about { ABOUT($off_m) }, and agree if the tape began at the { $fitting }; the one with the smaller error is used.
    .remedy = Set chainage_from to { $contact } if the tape began there.
display_below_zero = Its displayed level is below zero.
    .remedy = Correct the reading or its line.
set_aside = It was set aside.
    .remedy = Do nothing unless it should be used after all.
more_readings_than_used = Not used, as there are more than { $stops } stops of its walk, or { $most } readings, within { LENGTH($within_m) }; { $kept } of the { $readings } readings of the line are used, spread along it.
    .remedy = Do nothing: more of them at one place say no more about it.
more_walks_than_used = Not used, as it is of one of more than { $walks } walks within { LENGTH($stretch_m) }, of which those with the most readings count; { $kept } of the { $readings } readings of the line are used.
    .remedy = Set aside the walks that should not count.
another_gain = It has another gain or unit than the other fittings.
    .remedy = Correct it, or listen again with the settings of the others.
found_not_recorded = The result of the dig is not recorded.
pipe_not_reached = The hole did not reach the pipe, so it gives no evidence about the leak.
no_mark_made = No mark was made on this line.
dry_away_from_mark = A dry hole away from the mark gives no evidence about it.
another_hole_counts = Another hole of this line counts.
water_use_not_known = it is not known whether water was used
water_was_used = water was used
no_time_passed = no time passed between the readings
meter_ran_back = the second reading is less than the first
test_not_valid = Not valid: { $why }.
    .remedy = Close every outlet and test again.
dry_at_mark = A hole { ABOUT($apart_m) } from the mark found no leak. The mark is computed from the readings alone, without that hole.
    .remedy = Do not dig at this mark again: listen again first.
isolation_shows_nothing = This isolation test shows nothing: { $why ->
    [place] the place of the measurement is on no known line.
    [valve_place] a valve that was shut is on no known line, or at a tee on a line that passes it.
    [side] the measurement is so near a shut valve, or the flow so unknown, that its side is not known.
    [no_valve] no valve was shut around the place of the measurement.
    [loop] pipe leads around what was shut: nothing was cut off.
    [overlap] another test shut a valve in this stretch at the same time.
    [supplied] an end toward the utility, or several with unknown flow, was left open, which keeps up the pressure.
    [wide] too many lines are between the valves that were shut.
   *[repaired] a leak in the isolated stretch was repaired since.
}
    .remedy = { $why ->
        [place] Correct the position or the line_id of measured_at.
        [valve_place] Give line_id and position of the valve, and correct rows of closed_valves that were rejected.
        [side] Measure at a fitting that is farther from the valve, or give the side of the meter that fittings are on.
        [no_valve] Add the valves that were shut to closed_valves.
        [loop] Shut a valve on every way into the stretch, and test again; if a valve is missing, add it to closed_valves.
        [overlap] If both were one test, list all its valves; else correct the times, or test again, one test at a time.
        [supplied] Shut the valve toward the main, and test again.
        [wide] Shut valves nearer to the place of the measurement, and test again.
       *[repaired] Test again.
    }
district_test_left_out = This test at an inlet is not counted in the step test: { $why ->
    [measure] no flow was read.
    [valve_place] a valve that was shut is on no known line, or where pipes join.
    [other_valve] a valve that was shut is not one of those of the district that may be shut.
    [no_valve] no valve of the district was shut.
    [inlets] the flow was not read at every inlet at the same time.
    [no_loss] the flow before was not above the plain use.
    [rises] the flow rose.
   *[repaired] a leak of the district was repaired since.
}
    .remedy = { $why ->
        [measure] Read the flow at each inlet with the valves open, then shut.
        [valve_place] Give line_id and position of the valve, and correct rows of closed_valves that were rejected.
        [other_valve] Correct closed_valves, boundary or leaks_by, or test again without that valve.
        [no_valve] Add the valves that were shut to closed_valves.
        [inlets] Read all inlets in the same test, and correct the times, or the inlets given.
        [no_loss] Correct use_l_per_min, or test when there is less use.
        [rises] Test again when less water is drawn.
       *[repaired] Test again.
    }
dig_not_counted = It does not count: { $why }
    .remedy = Do nothing unless the reason is wrong.
too_few_digs = { $digs ->
    [one] 1 dig counts
   *[other] { $digs } digs count
}; with fewer than { $least } nothing is calibrated.
    .remedy = Add outcomes as holes are opened.
leaks_far_from_odds = { $lost } of { $digs } leaks lay where the computed probability was almost zero.
    .remedy = Check their traces, lengths and taped distances: calibration can't correct them.
walk = Walk { $walk }
walk_unnamed = Walk
group_of_walks = A group of { $walks } walks
position_error_missing = { $walk } has no position_sd_m, and { $exact } of its { $readings } points lie exactly on the { $on ->
    [tape] place of their tape
   *[route] route
}: the default, { LENGTH($assumed_m) }, decides how far from the mark the leak may be.
    .remedy = Fill in position_sd_m of this walk, in metres: the error of a point as it was measured. If the points were made from the tape, remove them.
walk_without_order = { $walk } has { $stops } stops with satellite positions, and neither seq nor time gives their order: each stays at its own position, and the mark may be off by as much as these.
    .remedy = Fill in seq: 1, 2, 3 and so on, in the order of the walk. Or tape the stops.
walk_order_repeats = { $walk } has stops with the same seq or time among its { $stops } stops with satellite positions, so their order is not known: each stays at its own position, and the mark may be off by as much as these.
    .remedy = Give each stop of a walk its own seq, and each walk its own walk_id. Or tape the stops.
walk_order_unlike = { $walk } has { $stops } stops whose satellite positions do not go along the line in the order of seq or time: each stop stays at its own position, and the mark may be off by as much as these.
    .remedy = Check seq, and that the walk is one walk. Or tape the stops.
level_all_alike = { $walk } shows { $level } at all of its { $stops } stops: the sensor may not have been connected, or the gain too low or too high.
    .remedy = Check the instrument, and listen again.
display_full = { $walk } shows its highest value, { $level }, { $times } times: the display may have been full, and the level there higher.
    .remedy = Listen there again with less gain, in a walk of its own.
display_at_zero = { $walk } shows 0 at { $times } of { $stops } stops: they count as below the lowest level on the display.
    .remedy = Listen there again with more gain, in a walk of its own.
level_stuck = { $walk } shows { $level } { $times } times in a row, from { $reading } on: the sensor or the display may have been stuck.
    .remedy = Check the instrument, set set_aside to true where it was stuck, and listen again.
level_jumps = { $walk } is { DECIMALS($by_db, digits: 0) } dB { $louder ->
    [yes] louder
   *[no] quieter
} from { $reading } on, at once: the gain may have been changed there.
    .remedy = If it was, give gain_db, or give what came after it another walk_id.
levels_in_order = { $walk } has levels that only { $rise ->
    [yes] rise
   *[no] fall
}, over { $stops } stops: they may have been sorted without the rows that they belong to.
    .remedy = Compare the levels with what was noted at the stops.
walk_apart = { $walk } shares no stretch with the walks before it, and their gains are not known: their levels can't be compared.
    .remedy = Listen again at a few stops of the other walk, with the gain of this one.
air_too_high = Air at { PRESSURE($air_kpa) } is { PRESSURE($over_kpa) } above the line's own, over the { PRESSURE($most_kpa) } allowed, so the reading is refused as proof: valves, heaters and fixtures can be damaged.
    .remedy = Lower the regulator, and listen again.
air_pressure_unknown = The pressure of the air, or of the line, is not on record: it can't be compared with the limit.
    .remedy = Fill in air_kpa of the readings and pressure_kpa of the route.
air_without_partner = Air was { $air } for { $readings } readings on this line that have no partner with the same place, sensor, filter and gain; the air test leaves them out.
    .remedy = Listen at one place with air off and on alternately.
calibrated = Zones and odds are { $wider ->
    [yes] wider
   *[no] narrower
} than those of the model: its odds are raised to the power { DECIMALS($exponent, digits: 2) } (± { DECIMALS($exponent_sd, digits: 2) }), fitted to { $digs } digs.
    .remedy = Leave out the calibration to see those of the model.
no_advice = Where to listen next can't be computed ({ $error }).
    .remedy = Listen at one-foot steps around the loudest stop.
not_worked_out = The line can't be computed from its readings ({ $error }).
    .remedy = Check for impossible levels or chainages.
no_evidence = No meter test, no fitting, and no past leak or repair on record indicates a leak on { $every ->
    [yes] any line
   *[no] { $lines } of the lines
}.
    .remedy = Read the meter twice with all outlets closed before anyone walks.
utility_without_position = It has no usable position, and could be anywhere.
    .remedy = Give it a geometry; until then it holds every dig.
utility_shape_repaired = Its shape is invalid, and was repaired to measure from.
    .remedy = Correct the shape; until then it holds the digs near it.
pixels_enlarged = The lines are too far apart for pixels of { FIGURES($wanted_m, digits: 3) } m in leak_density.tif: they are { FIGURES($made_m, digits: 3) } m.
    .remedy = Export fewer lines, with { $parameter }.
density_leaves_out = The density raster shows the { $shown } most urgent of { $lines } lines; { $left } are left out.
    .remedy = Give { $parameter } a higher number.
format_loses = { $loses }
    .remedy = Use result.gpkg where that matters.
no_route_for_photo = There is no route to show it with.
    .remedy = Draw the routes.
nothing_selected = All lines are shown: { $error }
    .remedy = Ask for another status, or for lines of this job.
map_leaves_out = The map shows { $shown } of { $lines } lines, the first by priority.
    .remedy = See the others in result.gpkg, or give { $parameter } a higher number.
route_branches = Its parts meet, but not end to end: distances can't be measured along a line with a branch.
    .remedy = Join the parts in the GIS, or give each its own line_id.
route_parted = Its parts are { LENGTH($gap_m) } apart, so nothing can be measured along it.
    .remedy = Join the parts in the GIS, or give each its own line_id.
line_not_selected = This line was not selected.
value_missing = { $column } is missing.
    .remedy = Fill in { $column }.
column_missing = { $column } is missing: the layer has no such column. No row is used.
    .remedy = Add the column { $column }, or say in a mapping which column it is.
column_missing_like = { $column } is missing: the layer has no such column; { $like } looks like it. No row is used.
    .remedy = Write a mapping with { $column } = '{ $like }' (leakgeo mapping drafts one), or rename it.
tape_not_used = It has a taped distance that does not fit its position.
    .remedy = Correct the reading or its line.
merged_with_drawn = It is the same line as the drawn row, which has its values.
identical_row = An identical row with this { $column } comes before it.
    .remedy = Remove the copy.
copy_of_reading = It is a copy of a reading of { $of }.
    .remedy = Keep each reading once.
fitting_not_listened = It was not listened to: it gives tapes and places alone.
    .remedy = Do nothing unless it should be listened to.
kept_lines_damaged = { $file } in the output folder is damaged, or was not written by leakgeo; its lines are worked out again.
kept_pieces_damaged = { $file } in the output folder is damaged, or was not written by leakgeo; the products are made anew.
law_held = The law of noise is the one learned from { $lines } lines before, as an update holds it.
    .remedy = To learn it from the job as it is now, update with --relearn (in Python relearn=True).
law_held_with_other = It was learned with other values of { JOIN($parameters, by: ", ") }.
law_learned_again = The law of noise is learned again, so all lines are worked out: { $why ->
    [asked] as asked for
    [digs] the results of digs have changed
    [lines] more than a fifth of the lines are new
    [given] the update before had been given one
   *[file] ground.toml is not the file that the last update wrote
}.
law_would_move = A law of noise learned from the job as it is now would give another status to { $moved } of { $looked_at } lines looked at: { $lines }.
    .remedy = To use it for all lines, update with --relearn (in Python relearn=True).
