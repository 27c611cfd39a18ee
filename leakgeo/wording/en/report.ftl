# Report, its pictures and sheets, and what the map and the workbook share with it.


## Cover

report_title = Leak marks, and what holds each dig
report_document = Leak report
report_lines = Lines, the most urgent first
report_by_status = Lines by status
report_rests_on = What this rests on
report_meaning = What the probabilities mean
report_none = None.
report_without_mark = Lines without a mark
report_parameters = Parameters
report_line = Line
report_mark = Mark
report_how_sure = How sure
report_dig = Dig
report_status = Status
report_count = Lines
report_why = Why
report_in_force = Parameter in force
report_value = Value
report_used_by = Used by
report_number = No.
report_no_reason = no reason recorded
report_more_on_page = { $more } more on its page
report_some_lines = Only the { $shown } most urgent of { $lines } lines with a mark or a zone are in this report; { $left } more, and { $without } lines without, are in summary.csv and result.gpkg.
report_font_lacks = Characters that this report's font lacks are printed as { $sign }; see the map instead.
report_page = page { $page }
report_meters_tested = Meters of { $lines } lines were tested: { $shown } show a loss{ $shown ->
    [0] {""}
   *[other] , together { LOSS($loss) }
}{ $priced ->
    [yes] , { DECIMALS($cost) }{ $currency } a year
   *[no] {""}
}.
report_not_calibrated = No calibration by digs was given: the odds are the model's own.
report_calibrated = A calibration by earlier digs is in the odds of { $lines } lines (power { DECIMALS($power, digits: 2) }).
report_ground_given = How much readings scatter on this ground is taken from an earlier job.
report_ground_assumed = How much readings scatter on this ground is assumed: { $lines } lines teach little of it, and { $enough } would begin to.
report_ground_learned = How much readings scatter on this ground was learned from { $lines } lines of this job.
report_all_readings = { $readings } readings
report_readings = { $readings } readings: { $used } used, { $unused } not used (each says why)

## Cautions of every sheet

report_caution = Nothing recorded here clears the dig.
report_caution_more = Get the one-call ticket and every utility's answer, follow local law, and let licensed people decide on the ground. Dig by hand near a mark.
report_odds_meaning = Probabilities are worked out from the readings and their errors, for the sound of one leak on a traced pipe. Each is that of a leak in the place named: '90 %' means that of a hundred such places about ninety have a leak, and ten have none.

## What a result was made from

made_job = Job
made_not_named = not named
made_readings = Readings taken
made_times = { DAY($first) } to { DAY($last) } UTC
made_computed = Computed in
made_delivered = Delivered in
made_by = Made by
made_version = leakgeo { $version }, { $run }

## Facts about a line

fact_address = Address
fact_work_order = Work order
fact_taped = Taped
fact_length = Length
fact_material = Material
fact_diameter = Diameter
fact_wall = Wall
fact_cover = Cover to crown
fact_pressure = Pressure
fact_loss = Loss
fact_dig_depth = Dig depth
fact_depth_from = Depth from
fact_rule = Tolerance rule
fact_meter = Meter
fact_evidence = Evidence
fact_before = Before listening
fact_likelier_by = Likelier before listening by
fact_calibration = Calibration
fact_improve = Ways to improve
fact_air_mark = Air test near the mark
fact_air_control = Air test at the control
fact_air = Air test
fact_order = Work order { $order }
fact_cost = { $message } At this rate it costs { DECIMALS($cost) } { $currency } a year.
fact_prior = Some places were likelier from the start, by { $prior }.
fact_power = Zones and odds were { $way ->
    [narrowed] narrowed
   *[widened] widened
} by what earlier digs found (power { DECIMALS($power, digits: 2) }).
depth_from_cover_on_record = cover on record
depth_from_ground_less_pipe_z = ground less pipe z
material_copper = copper
material_steel = steel
material_galvanized_steel = galvanized steel
material_ductile_iron = ductile iron
material_cast_iron = cast iron
material_lead = lead
material_pvc = pvc
material_pe = pe
material_pex = pex
material_asbestos_cement = asbestos cement
material_concrete = concrete
material_unknown = unknown

## Plan, profile and sketches

report_plan_key = Cross: the mark (bare ring: no mark yet); dashed round it: its errors along and across (95 % each, given a leak). Shaded pink: search zones. Hatched white: proposed hole; dashed white: white line; dotted: spoil no nearer ({ $spoil }). Coloured hatch: utility in conflict; dotted, letter and ?: of unknown position. Dots: readings, loud ones light, unused ones white. Numbered rings: listen next.
report_pipe_key = Along the pipe, to scale, as taped: the line is not placed on the ground, so there is no plan. Cross: the mark (bare ring: no mark yet). Shaded pink: search zones. Dots: stops, loud ones light, unused ones white. Distances are from the start of the line.
report_ties_key = Ties of the mark, directions true, distances not to scale. Thick: the pipe at the mark.
report_start = start
report_end = end
report_to_start = to the start
report_true_north = true N
report_drawn_mark = mark
report_likeliest = likeliest so far
report_level_axis = sound level, dB
report_density_axis = leak density, given a leak
report_distance_axis = distance from the start, { $unit }

## Page of a line, and dig sheet

report_next = Where to listen next
report_from_start = From the start
report_how_to_tape = How to tape it, and why here
report_no_dig_yet = Not a dig yet: { $line }
report_sheet = Dig sheet: { $line }
report_sheet_request = Dig sheet: { $line }, locate request
report_depth = Dig depth { LENGTH($depth_m, round: "up") }.
report_conflict = Utility in conflict
report_clearance = Clearance
report_how_close = How close
report_answer = Answer
report_to_do = To do
report_no_answer = no answer
report_listen_again = Before digging, listen once more at { JOIN($places) }.
report_what_holds = What holds this dig
report_cautions = Cautions
report_request = Locate request: { $asked }
report_request_order = work order { $order }
report_white_line = White line
report_latlon = Latitude, longitude (WGS 84)
report_tape_from = Tape from
report_distance = Distance
report_direction = Direction
report_as_taped = As taped
report_ticket = Dig ticket number
report_ticket_good = Ticket good from / until
report_set_out = Mark set out by (name, date, time)
report_locator = Utility locator (name, sign)
report_date_time = Date, time
report_exposed = Utilities seen and exposed
report_competent = Competent person (name, sign)
report_found = Leak found at / not found

## Places, ties and the hole

place_latlon = Latitude, longitude
place_plane = East, north ({ $crs })
place_corner = Corner { $number }
place_mark = Mark
tie_buried = { $point } (traced, not seen)
tie_bearing = { $wind } ({ $degrees } deg true)
tie_text = { $far } from { $point }, going { $way }
wind_n = N
wind_ne = NE
wind_e = E
wind_se = SE
wind_s = S
wind_sw = SW
wind_w = W
wind_nw = NW
hole_size = { LENGTH($length_m, round: "up") } by { LENGTH($width_m, round: "up") }, { $known ->
    [yes] { LENGTH($depth_m, round: "up") } deep
   *[no] depth not known
}
datum_note = Latitude and longitude are { $known ->
    [yes] good to about { $accuracy }
   *[no] of unknown accuracy
} here, for want of a better way from the job's datum to WGS 84. Set the mark out by its tie distances.

## Texts of the map alone

shown_span = { LENGTH($from_m) } to { LENGTH($to_m) }
shown_no_level = no level
shown_not_used = not used: { $why }
shown_air_mark = near the mark
shown_air_control = at a control point
shown_air_place = at a place
shown_air_confirmed = the leak sounds here
shown_air_not_this = it is not this leak that sounds here
shown_air_inconclusive = not decided
shown_loses = Meter: loses { LOSS($loss) }
shown_zone = { PERCENT($share) } that there is a leak in it
tally_lines = { $lines ->
    [one] 1 line
   *[other] { $lines } lines
}
tally_held = ({ $held } held)

## Words of the map's script; numbers in braces are filled in by it

map_a_reading = reading
map_no_level = no level
map_not_used = not used
map_no_reason = no reason recorded
map_fix = Fix as recorded
map_listen_at = listen next
map_walk = walk
map_no_such_line = The line of this link is not on the map.
map_page_title = leakgeo map
map_this_line = This line
map_walk_as = Walk as number
map_if_leaks = if these pipes leak
map_zone = Zone
map_proposed = Proposed excavation
map_not_proposed = Not located yet: no excavation proposed
map_white_line = White line: the area to ask marks for
map_by_loudness = place among the fittings by loudness
map_air_test = Air test
map_not_drawn = utilities here are not drawn: zoom in
map_reason = reason
map_reasons = reasons
map_show_more = more lines can be shown
map_of = of
map_lines = lines
map_first_lines = On this map are the first lines by priority
map_in_result = more are in result.gpkg
map_size = This page, MB
map_photo = Photo
map_tiles = Background tiles
map_asks_host = While this map is open it asks this host for the background, and so tells it where you look
map_profile_of = Profile: sound level in decibels and leak density against distance from the start
map_unreadable = This map could not be read
map_aria_side = Lines and what holds the dig
map_aria_lines = Lines
map_aria_status = Show lines of one status
map_aria_map = Map; the list beside it says the same in words

## Workbook

book_lines = Lines
book_title = Marks, and what holds each dig
book_line = Line
book_address = Address
book_status = Status
book_holds = What holds the dig
book_mark = The mark, from a fitting
book_from_start = From the start
book_how_sure = How sure
book_next = Next
book_all_holds = All holds
book_cautions = Cautions
book_evidence = Evidence
book_stop = Stop
book_as_taped = As taped
book_from_start_m = From the start (m)
book_level = Level as compared (dB)
book_used = Used
book_why_not = Why not
book_walk = Walk
book_surface = Surface
book_time = Time
book_yes = yes
book_no = no
book_from = from
book_some = { $lines } lines: the first { $most } by priority are here, and the first { $sheets } have a sheet.
