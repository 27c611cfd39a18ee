# Faults that checks find in the layers of a job; .remedy is what to do.

left_out = It is left out.
taken_as = It is taken as { $code }.
more_names = { $more ->
    [0] {""}
   *[other] {" "}and { $more } more
}

## Columns and values

reader_note = The reader reports: { $note }.
    .remedy = Look at the layer in a GIS.
cut_name = { $was } as { $column }
names_cut_off = Column names that the format cut off are matched by their beginnings: { JOIN($columns) }.
    .remedy = Do nothing unless one is another column or in another unit: then say so in a mapping.
columns_not_used = { $columns ->
    [one] 1 column is
   *[other] { $columns } columns are
} not used, as the data contract does not have { $columns ->
    [one] it
   *[other] them
}: { JOIN($names) }{ more_names }.
    .remedy = Do nothing unless it is a column of the contract under another name: then rename it.
column_of_older_files = The column { $was } of older files is read as { $column }, with true and false exchanged.
    .remedy = Rename it { $column }, and exchange true and false.
box_not_ticked = { $column } is false, as in a box that nobody ticked; the value is left out.
    .remedy = { $column ->
    [private] Enter no where its owner is known to be a member of the one-call centre, yes where it is private.
    [found] Enter dry where the pipe was seen and did not leak, pipe_not_reached where the hole did not get to it.
   *[other] Enter the code that is meant.
}
name_missing = { $column } is missing; the row is named by its number.
    .remedy = Fill in { $column }.
text_too_long = { $column } is longer than { $longest } characters: { $value }.
    .remedy = Shorten it.
not_number = { $column } is not a finite number: { $value }.
    .remedy = Give digits with a point, without unit; declare decimal commas in a mapping.
not_integer = { $column } is not a whole number: { $value }.
    .remedy = Give digits alone.
not_boolean = { $column } is not true or false: { $value }.
    .remedy = Give true or false.
not_datetime = { $column } is not a time: { $value }.
    .remedy = Give it as 2025-03-31T14:05:00Z, or with its offset from UTC.
not_date = { $column } is not a date: { $value }.
    .remedy = Give it as 2025-03-31.
not_string = { $column } is not text: { $value }.
    .remedy = Give text.
time_zone_missing = { $column } has no time zone; it is taken as UTC.
    .remedy = Do nothing if the forms of a field project filled them in, which write UTC. Else give times with their zone, or in UTC.
unknown_code = { $column } is not one of the known codes: { $value }.
    .remedy = Use one of: { JOIN($codes) }.
number_out_of_range = { $column } is out of range: { $value }.
    .remedy = Give { $minimum ->
    [unknown] at most { FIGURES($maximum, digits: 9) }
   *[other] { $maximum ->
        [unknown] at least { FIGURES($minimum, digits: 9) }
       *[other] from { FIGURES($minimum, digits: 9) } to { FIGURES($maximum, digits: 9) }
    }
}{ $unit ->
    [unknown] {""}
   *[other] {" "}{ $unit }
}, or leave it empty if not known.
day_out_of_range = { $column } is out of range: { $value }.
    .remedy = Give a day from { $first } to { $last }, or leave it empty if not known.

## Rows

identifier_shared = Several rows have this { $column }, and they differ.
    .remedy = Give each its own, or remove the wrong ones.
drawn_and_typed = It has a row without geometry and a drawn one: they are taken as one line, with the drawn shape.
level_negative = sound_level is negative on a linear scale: { $value }.
    .remedy = Give the number that the display showed, or set sound_unit to db.
level_not_decibels = sound_level can't be decibels: { $value }.
    .remedy = Leave it empty where nothing was measured, or set sound_unit to scale.
walk_not_decibels = Other levels of its walk can't be decibels, though this one can: the whole walk is likely linear.
    .remedy = Set sound_unit to scale in the whole walk.
decibels_like_display = { $readings } levels in decibels, on { $lines ->
    [one] 1 line
   *[other] { $lines } lines
}, are likely values of a linear display, such as 0 to 100.
    .remedy = Set sound_unit to scale if they are.
end_not_after_start = end_time is not after start_time.
    .remedy = Correct the times.
meter_reading_falls = end_reading is less than start_reading: { $value }.
    .remedy = Correct the readings, or add a full turn of the dial if it passed zero.
meter_off_line = The meter { $meter } is { ABOUT($off_m) } from the line of this test: the test counts, with the place of the meter not known.
    .remedy = Correct contact_id, line_id, or the position of the meter.
before_repair = It is from before the leak on this line was repaired, on { DAY($day) }, and no longer describes the line.
    .remedy = Listen again, or read the meter again, to see whether there is another leak.
repair_time_missing = The time of the repair is not recorded, so what was measured before it can't be set aside.
    .remedy = Fill in time.
dig_off_line = The hole is { ABOUT($off_m) } from its line, and is no evidence about it.
    .remedy = Correct line_id or the position.
dig_elsewhere = The hole lies { LENGTH($point_m) } along its line, and its record says { LENGTH($at_m) }, which is used.
    .remedy = Correct the one that is wrong. Chainages are in metres from the first vertex of the route.
dig_chainage_in_feet = The hole lies { LENGTH($point_m) } along its line, and its record says { DECIMALS($number, digits: 2) } m, which is { LENGTH($at_m) } and is used. In feet it would fit the hole.
    .remedy = Write it in metres, or correct the position of the hole.
exposed_beyond_route = exposed_to_m, { ABOUT($to_m) }, is beyond the end of its line at { ABOUT($route_m) }; the position of the hole is used instead.
    .remedy = Measure from the first vertex of the route, in metres, or reverse the route in the GIS.
leak_beyond_route = leak_chainage_m, { ABOUT($to_m) }, is beyond the end of its line at { ABOUT($route_m) }; the position of the hole is used instead.
    .remedy = Measure from the first vertex of the route, in metres, or reverse the route in the GIS.
leak_outside_exposed = leak_chainage_m is outside the pipe that was seen, exposed_from_m to exposed_to_m: { $value }.
    .remedy = Correct one of them.
dig_without_place = It has neither a position nor a chainage: it shows nothing of where the leak was.
    .remedy = Fill in leak_chainage_m, or exposed_from_m and exposed_to_m.
superseded = The record { $by } corrects it: it is kept, and not used.
    .remedy = Do nothing unless { $by } is wrong.
supersedes_in_circle = It corrects itself through { $value }: neither is left out.
    .remedy = Clear supersedes of the older record.
undated_since_repair = It has no time, and the leak on this line was repaired on { DAY($day) }: it may be from before, and is not used.
    .remedy = Fill in time if it is from after the repair; else listen again.
depth_implausible = depth_m is { $value }: deeper than water lines lie, unless it is in feet or inches.
    .remedy = Check its unit; a mapping brings it to metres.
depths_implausible = Half of the depths are more than { FIGURES($median_m, digits: 6) } m, deeper than most water lines lie: they may be in feet or inches.
    .remedy = Check the unit of depth_m; a mapping brings it to metres.
pressures_implausible = Half of the pressures are { FIGURES($median_kpa) } kPa or less, less than mains are kept at: they may be in psi or bar.
    .remedy = Check the unit of pressure_kpa; a mapping brings it to kPa.
diameters_implausible = Half of the diameters are { FIGURES($median_mm) } mm or less, less than water lines have: they may be in inches.
    .remedy = Check the unit of diameter_mm; a mapping brings it to mm.
times_go_back = Times go back while seq goes on, { $times ->
    [one] once
   *[other] { $times } times
}, in walk { JOIN($walks) }{ more_names }.
    .remedy = Check seq and time: the order of a walk is taken from seq.

## Copies

walk_named = walk { $walk }
walk_without_name = walk without a name
readings_without_walk = the readings of { $line } without a walk
readings_without_line = the readings of no line without a walk
same_as_earlier_reading = It is the same as an earlier reading except for reading_id.
    .remedy = Remove the copy, or correct what differs.
copied_readings = { $copies ->
    [one] A reading of { $walk } equals one of { $of } in time, place, level and sensor: it is a copy, and is not used.
   *[other] { $copies } readings of { $walk } equal those of { $of } in place, level and sensor, and in time where both have one: they are copies, and are not used.
}
    .remedy = Remove the copy, or correct what differs.

## Lines

line_unknown = Unknown line: no route has line_id { $value }.
    .remedy = Correct line_id, or add the route.
line_unknown_like = Unknown line: no route has line_id { $line }, though one has { $like }.
    .remedy = Correct line_id, or add the route.
line_rejected = The route of its line, { $value }, is rejected.
    .remedy = Correct the route.
selected_line_missing = Line { $line } was selected, and no route has that line_id.
    .remedy = Check its name.
lines_by_condition = The condition { $condition } selects { $lines ->
    [one] one line
   *[other] { $lines } lines
}; of the rest of the job only what lies around was read, with { $others } other routes.
    .remedy = Do nothing. Faults of other lines are reported when the whole job is checked.
no_selected_line = None of the lines selected is in the job.
    .remedy = Check their names.
placed_by_chainage = { $placed } of its { $rows } rows have no position; they are placed by chainage alone.
    .remedy = Do nothing if each tape began where its route does, or at chainage_from.
on_another_line = It lies on line { $on }, { LENGTH($off_m) } from line { $line }, which its line_id names.
    .remedy = Correct its line_id, or its position.
on_other_lines = It lies on another line, { LENGTH($off_m) } from the one that its line_id names.
    .remedy = Correct its line_id, or its position.
taped_readings_off_route = { $readings } of its taped readings have positions up to { ABOUT($off_m) } off its route, more than their errors explain; they are placed by chainage alone.
    .remedy = Check their positions, and their line_id.
walk_at_one_place = { $same } of the { $readings } readings of { $walk } have one and the same position: where along the line each was taken is not known.
    .remedy = Give each its own position, or its taped chainage_m.

## Shapes

route_without_geometry = It has no geometry, and no fitting of it has a taped length.
    .remedy = Draw it, or give its fittings in contacts, each with the length taped from the fitting before; remove the row if it is no line.
fitting_without_geometry = It has no geometry, and no list of taped lengths places it.
    .remedy = Draw it, or give the length taped from the fitting before it.
reading_without_geometry = It has no geometry.
    .remedy = Draw it, or give its line_id and its taped chainage_m.
geometry_empty = Its geometry is empty.
    .remedy = Draw it, or remove the row.
reading_geometry_empty = Its geometry is empty.
    .remedy = Draw it, or give its line_id and its taped chainage_m.
coordinate_not_finite = A coordinate is not a finite number.
    .remedy = Draw it again.
wrong_geometry_type = Its geometry is not a { JOIN($allowed, by: " or ") } but a { $value }.
    .remedy = Draw it as that, or put it in the layer it belongs to.
no_place_in_crs = Its coordinates are not a place in the layer's CRS.
    .remedy = Check the layer's CRS, and whether x and y (longitude and latitude) are swapped.
route_without_length = The route has no length.
    .remedy = Trace it again.
route_too_long = The route is { FAR($length_m) } long.
    .remedy = Look for a vertex far away, and check the CRS.
z_in_part = Only some of its vertices have a Z; Z is not used.
    .remedy = Give every vertex its Z, or none.
outline_without_area = Its outline encloses no area.
    .remedy = Draw it again.
outline_repaired = Its outline crossed itself; it was repaired.
    .remedy = Check it, and draw it again if it is wrong.
route_turns_back = The route turns straight back on itself, { $times ->
    [1] once
   *[other] { DECIMALS($times) } times
}: a spike, or a part drawn twice. Distances along it are too long by that.
    .remedy = Remove the extra vertices.
route_crosses_itself = The route crosses or touches itself: near there a position alone can't show which part it is on.
    .remedy = Check the trace; if it is right, give taped distances there.
end_near_route = An end of it is { LENGTH($gap_m) } from { $other }, and does not count as joined to it.
    .remedy = If they are one pipe, draw the ends together.
routes_cross = Routes cross where neither ends, and do not count as joined ({ $times ->
    [one] once
   *[other] { $times } times
}).
    .remedy = If one branches off the other there, end it there.

## CRS

far_from_routes = It lies { FAR($away_m) } from the routes.
    .remedy = Check the CRS of the layer and of the routes, and whether x and y are swapped.
would_fit_swapped = It would lie on them if its x and y were swapped.
would_fit_routes_crs = It would lie on them if its CRS were that of the routes, { $crs }.
would_fit_routes_crs_swapped = It would lie on them if its CRS were that of the routes, { $crs }, and its x and y swapped.
would_fit_degrees = It would lie on them if its coordinates were degrees.
would_fit_degrees_swapped = It would lie on them if its coordinates were degrees, latitude first.
would_fit_feet = It would lie on them if its coordinates were feet, not metres.
would_fit_us_survey_feet = It would lie on them if its coordinates were US survey feet, not metres.
would_fit_metres_not_feet = It would lie on them if its coordinates were metres, not feet.
would_fit_metres_not_us_survey_feet = It would lie on them if its coordinates were metres, not US survey feet.
would_fit_zone = It would lie on them if it were in { $zone }.
near_pole = They lie at latitude { DECIMALS($latitude_deg, digits: 2) }, longitude { DECIMALS($longitude_deg, digits: 2) }, where there are no streets.
    .remedy = Check the CRS of the routes, its unit, and whether x and y are swapped.
outside_crs_area = They lie at latitude { DECIMALS($latitude_deg, digits: 2) }, longitude { DECIMALS($longitude_deg, digits: 2) }, far outside the area of their CRS, { $crs }.
    .remedy = Check the CRS of the routes, its unit, and whether x and y are swapped.
other_foot = Half of its best positions are { LENGTH($before_m) } or more off their lines; it would be { LENGTH($after_m) } if its feet were { $meant ->
    [international] international feet, not US survey ones
   *[us_survey] US survey feet, not international ones
}.
    .remedy = Check which foot the layer, and the routes, are in.
feet_differ = It has the projection of the routes, but other feet: its CRS, { $crs }, has { $foot ->
    [international] international feet
   *[us_survey] US survey feet
}, and that of the routes, { $routes_crs }, { $routes_foot ->
    [international] international feet
   *[us_survey] US survey feet
}. If that is a mistake, its positions are { LENGTH($moved_m) } off.
    .remedy = Ask who made it which foot its coordinates are in, and set that CRS; nothing was changed.
datum_guessed = Its datum ({ $datum }) can't be transformed to that of the routes ({ $routes_datum }) on this machine; positions may be wrong by tens of metres.
    .remedy = Transform the layer to the routes' CRS in a GIS, or install PROJ's grid files.
datum_shift_poor = The transformation from { $datum } to the routes' { $routes_datum } is accurate to about { ABOUT($accuracy_m) }.
    .remedy = Transform the layer to the routes' CRS in a GIS with the right grid, if that matters.
datum_shift_unknown = The transformation from { $datum } to the routes' { $routes_datum } is of unknown accuracy.
    .remedy = Transform the layer to the routes' CRS in a GIS with the right grid, if that matters.
degrees_in_metre_crs = Its coordinates are degrees, and its CRS, { $crs }, is not.
    .remedy = Set the CRS that it was drawn in, such as EPSG:4326.
no_route_on_earth = No route is at a place in the layer's CRS.
    .remedy = Check the CRS of the layer, and whether x and y are swapped.

## Layers

contacts_missing = No fittings were listened to, so no survey bracket is drawn.
    .remedy = Add the layer if a first survey was made.
meter_tests_missing = There is no meter test, so the loss of water is not known.
    .remedy = Add the table if the meter was read before and after a time without use.
utilities_missing = No other utilities are given. That clears nothing: they may be there all the same.
    .remedy = Have them located and marked before any digging, and add them.
surfaces_missing = Ground surfaces are not given.
    .remedy = Add the layer if the ground cover changes.
history_missing = Past leaks and repairs are not given.
    .remedy = Add the layer if there are records.
dig_outcomes_missing = Outcomes of digs are not given.
    .remedy = Add the layer as holes are opened.
layer_missing = The job has no layer { $layer }; its layers are: { JOIN($layers) }.
    .remedy = Add it, rename the layer that holds it, or name that one in a mapping.
job_without_layers = The job has no layer { $layer }, and no other.
    .remedy = Add it, or name a source that has it.
layer_without_crs = The layer has no CRS that places it on the earth; its { $rows } rows are not used.
    .remedy = Set the CRS that it was drawn in.
layer_without_geometry = The layer has no geometry; its { $rows } rows are not used.
    .remedy = Write it with { JOIN($types, by: " or ") } geometry, or name its columns of coordinates, x and y, in a mapping. A line that was only taped needs none: list its fittings in contacts, with tape_from_previous.
no_routes = The layer is empty: the job has no routes.
    .remedy = Trace the lines, or list their fittings with the taped lengths between them.
no_readings = The layer is empty: the job has no readings.
    .remedy = Add the readings of a walk.
no_good_route = No route can be used.
    .remedy = Correct the routes first.

## Rasters

not_an_image = it is not an image
side_file_not_an_image = { $file } beside it is not an image
side_file_names_others = { $file } beside it refers to other files
ground_refused = It is not read: { $why }.
    .remedy = Save it as a single GeoTIFF file.
ground_not_read = It can't be read: { $error }.
    .remedy = Save it again as a GeoTIFF.
ground_without_crs = It has no CRS.
    .remedy = Set the CRS that it was made in.
ground_unit_unknown = The unit of its heights is not known, so no cover is computed from it.
    .remedy = Give a CRS with a vertical part, such as EPSG:2263+6360, or a band unit.
ground_z_unit_unknown = The unit of the routes' Z is not known, so no cover is computed from it.
    .remedy = Give a CRS with a vertical part, such as EPSG:2263+6360, or a band unit.
ground_off_routes = It does not cover the routes.
    .remedy = Check its CRS and its extent.
ground_too_fine = It has { DECIMALS($columns) } by { DECIMALS($rows) } cells around the routes, more than can be read.
    .remedy = Check its CRS and its cell size, or make it coarser.
ground_read_from_file = It was read from { $file }, SHA-256 { $sha256 }. Its heights and the routes' Z are assumed to have the same datum.
    .remedy = Check the two datums: if they differ, every cover from it is wrong by the difference.
ground_read_from_table = It was read from { $table }. Its heights and the routes' Z are assumed to have the same datum.
    .remedy = Check the two datums: if they differ, every cover from it is wrong by the difference.
ground_read_coarser = It was read at a resolution { DECIMALS($times, digits: 1) } times coarser than its own.
    .remedy = Cut it to the area of the job for full detail.
ground_without_height = It has no height where the routes are.
    .remedy = Check its extent and its nodata.
ground_unlike_routes = Its heights less the routes' Z would give a median cover of { ABOUT($cover_m) }: their datums or units differ, and no cover is computed from it.
    .remedy = Bring both to one vertical datum and unit.
photo_refused = It could not be read: { $why }.
    .remedy = Give a single GeoTIFF file.
photo_not_read = It could not be read.
    .remedy = Give a GeoTIFF that opens in a GIS.
photo_without_crs = It has no CRS.
    .remedy = Set it, for example with gdal_edit -a_srs.
photo_off_routes = It does not reach the routes.
    .remedy = Give a photo of the area of the job.

## Results read back

result_without_record = It is not known whether its layers are as the run wrote them: no { $record } of a run lies beside it.
    .remedy = Keep the folder together.
result_of_other_run = Its layers are of run { $run }, and { $record } beside it is of run { $written }.
    .remedy = Keep the files of one run together.
result_superseded = This result, of run { $run }, written { $written }, was superseded by run { $by }, written { $at }: nothing may be dug by it.
    .remedy = Use the result that superseded it, which clears no dig either.
layer_changed = The layer { $layer } was changed after run { $run } wrote it.
    .remedy = Run the job again if that was not meant.
valves_missing = Valves are not given.
    .remedy = Add the layer if valves were shut in tests.
isolation_tests_missing = There is no isolation test.
    .remedy = Add isolation_tests and closed_valves if valves were shut to narrow the loss down.
not_length = { $column } is not a finite number: { $value }.
    .remedy = Give digits with a point, or a length with its unit, such as 38' 6".
unit_not_of_measure = unit is not one of a { $measure }: { $value }.
    .remedy = Use one of: { JOIN($units, by: ", ") }.
after_less_than_before = after is less than before, on a meter: { $value }.
    .remedy = Correct the readings, or add a full turn of the dial if it passed zero.
isolation_not_settled = The value had not settled, or settled is not recorded: this isolation test shows nothing.
    .remedy = Wait until the value stays the same, read again, and record settled.
isolation_without_pressure = There was no pressure before the valves were shut: { $value }. This isolation test shows nothing.
    .remedy = Correct before, or repeat the test on a line under pressure.
isolated_pressure_rises = The pressure rose after the valves were shut, to { $value }: this isolation test shows nothing.
    .remedy = Correct before and after if they are exchanged; else a valve lets water pass: find it, and test again.
isolated_flow_rises = The flow rose after the valves were shut, to { $value }: this isolation test shows nothing.
    .remedy = Correct before and after if they are exchanged; else find what drew water, and test again.
valve_off_line = The valve is { LENGTH($off_m) } off { $line }, the line that its line_id names: it cuts nothing off there.
    .remedy = Correct its position or its line_id.
valve_off_network = The valve is { LENGTH($off_m) } from the nearest line: it cuts nothing off.
    .remedy = Correct its position, or add the line that it is on.
shut_fitting_not_named = The fitting that was shut is not named: this result shows nothing.
    .remedy = Give its contact_id.
shut_fitting_off_line = The fitting that was shut, { $value }, is not on this line: this result shows nothing of it.
    .remedy = Correct contact_id or line_id, or the position of the fitting.
end_not_named = The end beyond which was listened is not named, and no fitting at an end: this result shows nothing.
    .remedy = Set beyond to start or end, or give the contact_id of a fitting at that end.
reference_unknown = { $column } is not known: { JOIN($refers_to, by: " or ") } has no { $value }.{ $left_out ->
    [yes] {" "}It is left out.
   *[no] {""}
}
    .remedy = Correct { $column }, or add that row.
exposed_ends_exchanged = exposed_to_m is less than exposed_from_m: { $value }.
    .remedy = Exchange the two.
tape_without_unit = Its tape is a number without a unit: { $value }.
    .remedy = Write the unit beside it, as in 38' 6" or 11.7 m, or fill in tape_unit.
tape_not_a_length = Its tape is no length: { $value }.
    .remedy = Write it as 38' 6" (inches below 12), 38.5 ft or 11.7 m.
tape_contradicts_chainage = Its tape, { $value }, and its chainage_m differ.
    .remedy = Correct one of them, or leave chainage_m out: the tape is enough.
tape_without_line = Its taped distance is not used: without a line_id, nothing shows which line it ran along.
    .remedy = Fill in line_id.
tape_without_direction = chainage_toward, { $value }, is where its tape began: that gives no direction, and the taped distance is not used.
    .remedy = Correct it, or leave it out and tape from the start of the route.
tape_fitting_unknown = { $column } names no fitting that has a position: { $value }. Its taped distance is not used.
    .remedy = Correct it, or leave it out and tape from the start of the route.
tape_fitting_off_line = The fitting that { $column } names, { $value }, is not on its line. Its taped distance is not used.
    .remedy = Correct it, or leave it out and tape from the start of the route.

## Lists of fittings with the taped lengths between them

list_tape_negative = Its tape from the fitting before is negative: { $value }. The list of its line is not used.
    .remedy = Write the length along the pipe from the fitting before it, and give the order in seq.
list_tape_missing = The list of its line lacks the length from the fitting before it, so the list is not used.
    .remedy = Tape from the fitting before it along the pipe; if it is not on the way, number only the others in seq.
list_order_missing = Other fittings of its line have their order in seq, and it has none. The list of its line is not used.
    .remedy = Number all fittings of the list, or none.
list_order_repeated = Two fittings of its line have the same seq. The list of its line is not used.
    .remedy = Number them in the order in which they stand along the pipe.
list_of_one = It is alone in the list of its line: one fitting gives no length.
    .remedy = Add the next fitting with the length to it.
list_too_long = The list of its line is { FAR($length_m) } long, and this is its longest length. The list is not used.
    .remedy = Write the length as it was taped, and check its unit.
list_without_length = All lengths in the list of its line are 0.
    .remedy = Tape from fitting to fitting along the pipe.
list_starts_with_length = It is the first of its line and has a length from a fitting before it: is that the length to the next one? The list of its line is not used.
    .remedy = Write each length at the fitting that the tape ran to, and leave it empty at the first.
list_not_used = It has no position, and the list of its line places it nowhere.
    .remedy = Correct the list, or place the fitting on the plan.
list_beyond_route = The taped list puts it beyond the end of the drawn route, which is { LENGTH($route_m) } long.
    .remedy = Correct the lengths or the route, or place the fitting on the plan.
list_and_route_differ = Its taped list is { LENGTH($taped_m) } long, its drawn route { LENGTH($route_m) }; taped distances are used along the route.
    .remedy = Look which is right: the list may begin at the other end, or the route may be incomplete.
taped_list_unusable = It has no geometry, and its taped list of fittings can't be used.
    .remedy = Correct the list in contacts, or draw the line.
line_by_tape_alone = It has no geometry; it is computed along its taped list, which is { LENGTH($length_m) } long, and not placed on the ground: no map, no coordinates, and every dig on hold.
    .remedy = Draw it in the row that is there (in QGIS: Edit > Add Part), or as a new row with the same line_id; or give the positions of two of its fittings.
line_assumed_straight = It is assumed to be straight between { JOIN($ends) }, which have positions; the error of its trace is taken as { LENGTH($sd_m) }, that of the positions and of the bow that its taped length allows.
    .remedy = Draw the line where it bends, with the same line_id: taped distances then run along it.
positions_contradict_tape = Two of its fittings are { LENGTH($apart_m) } apart by their positions, and { LENGTH($taped_m) } by the tape: the line is not placed on the ground.
    .remedy = Correct the positions or the lengths.

## Sheets of a crew without a GIS

sheet_as_layer = { $sheet } as { $layer }
sheets_are_layers = Sheets are read as layers: { JOIN($sheets) }.
sheet_filled_down = { $cells ->
    [one] 1 empty cell is
   *[other] { $cells } empty cells are
} taken as the cell above, on the same line: { JOIN($columns) }.
    .remedy = Do nothing if they were left empty because they are the same; else fill them in. The word start means the start of the line.
sheet_stops_named = { $stops ->
    [one] 1 stop without a name of its own is
   *[other] { $stops } stops without a name of their own are
} named by line, and by walk or row where that is not enough.
sheet_totals_left_out = Rows of totals are left out: { JOIN($rows) }.
    .remedy = Do nothing unless the word is the name of a line or a fitting: then give it another name.
sheet_words_as_codes = Words are read as codes: { JOIN($words) }.
    .remedy = Do nothing if they are right; else write the code that is meant.
sheet_days_without_hour = { $cells ->
    [one] 1 time is a day without an hour, taken
   *[other] { $cells } times are days without an hour, each taken
} as its midnight in UTC: { JOIN($columns) }.
    .remedy = Write times as text with their zone, as in 2026-05-03T06:10-04:00. If the cells show an hour, their format hides it: format them as text.
respelled = { $was } as { $now }
sheet_respelled = Names that differ in case, spaces or hyphens alone are read in the spelling of their own sheet: { JOIN($names) }.
    .remedy = Do nothing unless they are two things: then give them names that differ more.
sheet_not_degrees = Longitudes or latitudes that are no numbers are left out: { JOIN($values) }.
    .remedy = Give decimal degrees, such as -83.0458.
