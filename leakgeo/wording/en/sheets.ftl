# Headers and texts of the paper sheets. A typed file may have any of these headers.

header_line_id = line
header_address = address
header_date = date
header_crew = crew
header_walk = walk
header_sensor = sensor
header_gain_db = gain dB
header_sound_unit = unit
header_surface = surface
header_chainage_from = from
header_chainage_toward = toward
header_tape_unit = tape unit
header_stop = stop
header_tape = tape
header_sound_level = level
header_air = air
header_air_kpa = air kPa
header_air_psi = air psi
header_remark = remark
header_contact_id = fitting
header_kind = kind
header_tape_from_previous = tape from previous
start_of_tape = start

## Codes

surface_concrete = concrete
surface_asphalt = asphalt
surface_tile = tile
surface_paver = paver
surface_gravel = gravel
surface_soil = soil
surface_grass = grass
surface_carpet = carpet
surface_unknown = unknown
sensor_contact_probe = contact probe
sensor_magnet = magnet
sensor_ground_plate = ground plate
sensor_ground_spike = ground spike
air_is_off = off
air_is_on = on
sound_unit_db = dB
sound_unit_scale = scale
tape_unit_ft = ft
tape_unit_m = m

## Sheets

sheet_fittings = Fittings of a line
sheet_walk = A walk: stops along a line
sheet_last = The last stretch: a stop every { $step }
sheet_air = Air test: each stop with air off, then on
sheet_meter = Meter test
sheet_dig = Dig and repair
sheet_page = page { $page } of { $pages }
sheet_caution = Nothing recorded here clears the dig.
sheet_caution_more = Get the one-call ticket and every utility's answer, follow local law, and let licensed people decide on the ground.
sheet_example_tape = Tapes as read: { $example }.
sheet_how_fittings = One row for each fitting, in the order of the pipe. The first tape is 0; each other is from the fitting before.
sheet_how_walk = One row for each stop. A head box holds for the whole sheet. Write the surface where it changes. A new sensor, gain or origin of the tape is a new walk on a new sheet.
sheet_how_last = Same walk, same sensor and gain as the sheet before. Write each tape as read. The printed steps are a guide alone.
sheet_how_air = At the loudest stop, and at two or three quiet stops of the same line. Do not move the sensor between off and on.
sheet_how_meter = Nobody uses water during the test. Read every digit, also the red ones and the needle.
sheet_how_dig = Before digging: what must be cleared. In the hole: what was found.
sheet_codes = { $column }: { JOIN($codes, by: " | ") }
sheet_unit_of_level = { $column }: ring scale for bars, a needle or 0 to 100. Ring dB only if the display says dB.
sheet_test = test { $number }
sheet_utility = utility, owner
sheet_answer = answer of the owner
sheet_seen = mark seen on the ground
sheet_exposed = exposed by hand, depth
sheet_ticket = dig ticket number
sheet_ticket_from = ticket good from
sheet_ticket_until = ticket good until
sheet_competent = competent person (name, sign)
sheet_locator = utility locator (name, sign)
sheet_mark_by = mark set out by, date, time
sheet_sketch = Sketch: the hole, the leak, and tapes to two fixed points
sheet_found = found
sheet_found_codes = leak | dry | pipe not reached
sheet_from_mark = from the mark to the leak, toward
sheet_pipe_from = pipe seen from
sheet_pipe_to = pipe seen to
sheet_depth = depth to the pipe
sheet_cause = cause
sheet_repaired = repaired
sheet_yes_no = yes | no
sheet_time = date, time
sheet_meter_name = meter
sheet_volume_unit = unit of the register
sheet_volume_units = gal | ft³ | L | m³
sheet_start_time = start: date, time
sheet_start_reading = start: register
sheet_end_time = end: date, time
sheet_end_reading = end: register
sheet_water_used = water was used
sheet_house_valve = house valve
sheet_open_shut = open | shut
sheet_resolution = smallest step of the register

## Forms of the field project, for a crew that reads feet

form_in_metres = METRES (3 ft = { $value })
form_in_millimetres = MILLIMETRES (3/4 in = { $value })
form_in_kilopascals = KILOPASCALS (60 psi = { $value })
form_is_it_feet = { $value } m is 8 ft 2 in. Was this typed in feet? Divide feet by { $factor }.
form_is_it_psi = { $value } kPa is 20 psi. Was this typed in psi? Multiply psi by { $factor }.

## Sheets of the workbook and the headers that only they have

title_routes = Lines
title_contacts = Fittings
title_readings = Stops
title_meter_tests = Meter tests
title_dig_outcomes = Digs
header_reading_id = stop
header_walk_id = walk
header_work_order = work order
header_material = material
header_diameter_mm = diameter
header_depth_m = depth
header_pressure_kpa = pressure
header_installed_year = year of installation
header_side = side of the meter
header_time = time
header_tap_open = tap open to a trickle
header_start_reading = register at the start
header_start_time = start
header_end_reading = register at the end
header_end_time = end
header_volume_unit = unit of the register
header_water_used = water was used
header_house_valve = house valve
header_found = found
header_exposed_from_m = pipe seen from
header_exposed_to_m = pipe seen to
header_repaired = repaired
header_note = note
header_meter_tests_contact_id = meter

## Forms of the field project

form_write_name = { $title }: write its name.
form_no_length = This is no length. Write it as 38' 6", 38.5 or 11.7 m.
form_other_line = This fitting is on another line.
form_between = { $title }: at least { $least } and at most { $most }.
form_least = { $title }: at least { $least }.
form_most = { $title }: at most { $most }.
form_by = by position
form_from = from
form_start = the start of the line
form_feet = feet
form_metres = metres
