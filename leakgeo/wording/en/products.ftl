# Sentences about one line in map, report, workbook and panel, and the words of the QGIS project.

## Place and error of the mark

mark_named = mark { $rank }
position_mark = Mark at { JOIN($at, by: " and ") } from the start
position_marks = Marks at { JOIN($at, by: " and ") } from the start
position_named = { $mark } at { JOIN($at, by: " and ") } from the start
position_likeliest = { TERM($status, kind: "status") }; likeliest at { JOIN($at, by: " and ") } from the start
spot_mark = the mark
spot_mark_of = mark { $rank }
spot_likeliest = the likeliest place
spot_likeliest_of = likeliest place { $rank }
error_along = { PERCENT($probability, at: "start") } that there is a leak within { LENGTH($along_m, round: "up") } of { $spot } along the pipe
error_across = { $along }; the pipe is within { LENGTH($across_m, round: "up") } across it (95 %)
error_not_placed = { $along }; where the pipe lies on the ground is not known
taped_from = { LENGTH($by_m) } from { $fitting }
taped_toward = { LENGTH($by_m) } from { $fitting } toward { $toward }

## Probabilities of a leak

odds_zone = { PERCENT($probability, at: "start") } that there is a leak within these { LENGTH($length_m) } (from { LENGTH($from_m) } to { LENGTH($to_m) })
odds_within = { PERCENT($probability, at: "start") } that there is a leak within these { LENGTH($length_m, round: "up") }
odds_rest = { PERCENT($probability, at: "start") } that there is a leak within { $count } other stretches
odds_foot = { PERCENT($probability, at: "start") } that there is a leak within { FOOT() } of { $spot }
odds_line = { PERCENT($probability, at: "start") } that there is a leak on this line

## Another place for the hole

other_place = Less in the way: a hole { LENGTH($moved_m) } { $way ->
    [further] further from
   *[nearer] nearer to
} the start, at { LENGTH($at_m) }: { $gain }. { PERCENT($there, at: "start") } that there is a leak in it instead of { PERCENT($here) }.
fewer_tolerance_zones = in { $zones } tolerance { $zones ->
    [one] zone
   *[other] zones
} instead of { $instead_of }
further_from_tolerance_zones = { LENGTH($further_m, round: "down") } further from the nearest tolerance zone

## What is said of a dig without a recorded hold; nothing clears it

dig_text_no_hold = No hold recorded
dig_text_no_dig = No dig proposed
dig_text_not_checked = Clearance was not checked: utilities and one-call answers are not known
dig_text_not_located = The leak is not located on this line; narrow it down first
dig_text_no_reason = The dig is held; the reason was not recorded

## Groups, themes and bookmarks of the project

project_title = Leak marks of { $job }
project_group_holds = What holds the dig
project_group_marks = Marks
project_group_zones = Zones
project_group_readings = Readings
project_group_pipes = Pipes and ground
project_group_rest = Evidence and records
project_theme_dig = Before a dig
project_theme_readings = Readings
project_bookmarks = Digs by rank, held ones last
project_held = held
project_readings_of_job = Readings as entered

## Labels, forms and map tips

project_no_mark = no mark yet
project_from = from
project_page_card = Before anyone digs
project_page_columns = All columns
project_held_by = What holds the dig
project_message = Place
project_next_action = Next
project_cautions = Cautions
project_evidence = Evidence
project_yes = yes
project_no = no

## Dig sheet

project_sheet = Dig sheet
project_unmarked = No mark yet, not a place to dig
project_of_mark = , mark { $rank }
project_caution_more = Get the one-call ticket and every utility's answer, follow local law, and let licensed people decide on the ground. Dig by hand near a mark.
project_north = north
project_no_map = The line is not placed on the ground, so there is no map: the place is a taped distance alone.
project_more = and { $count } more in the layer { $layer }
project_footer = Job { $job }, { $run }, line { $line }, page { $page } of { $pages }.

## Run and time, on everything that people read

run_of = run { $run }
run_written = run { $run }, written { DAY($written) }

## Legends of the layers of a result

legend_mark = Mark
legend_likeliest_place = Likeliest place so far: no mark yet
legend_zone_first = Likeliest
legend_zone = Rank { $rank }
legend_zones_from = Rank { $rank } and after
legend_held = Held
legend_position_unknown = { TERM($kind, kind: "utility") }, position not known
legend_levels = { FIGURES($low_db, digits: 6) } to { FIGURES($high_db, digits: 6) } dB
legend_not_used = Not used
legend_density_from = from { FIGURES($per_m) } per m
legend_density_under = under { FIGURES($per_m) } per m
legend_share_from = from { PERCENT($probability) }
legend_share_under = under { PERCENT($probability) }
legend_next_readings = Listen next
legend_air_tests = Air tests
legend_contact_ranking = Fittings by loudness
legend_learned_cases = Digs compared with marks
legend_ties = Ties to the mark
legend_locate_requests = White line
legend_dig_alternatives = Other place for the hole
legend_survey_bracket = Stretches to walk

## List of lines by the order of the digs

list_rank = Rank
list_line = Line
list_status = Status
list_mark = Mark
list_odds = Within { FOOT() }
list_water = { $units ->
    [us] Stops, gal/day
   *[other] Stops, l/day
}
list_holds = Holds
list_held = held { $rank }
list_from_fitting = { LENGTH($by_m) } from { $fitting }
list_from_start = { LENGTH($by_m) } from the start
list_assumed = assumed loss
list_median = median loss
list_about = Digs that no hold is recorded for come first, by the water that each is expected to stop; then held digs, by the water that freeing them would allow; then other lines, by priority. A held dig stops no water before what holds it is cleared.
list_loss_from = "{ TERM("median", kind: "list") }": no meter test, so the median of the metered losses of the job. "{ TERM("assumed", kind: "list") }": no meter test, and too few losses in the job.
list_none_held = No located line is held.

## Digging round

round_caution = No hold on record is not a clearance: unrecorded utilities are not in the data.
round_to_clear = Before each dig: the one-call ticket with every owner's answer, local law, and the cautions of the dig. Licensed people decide on the ground; dig by hand near the mark.
round_held = Held, in no round before what holds the dig is cleared:
round_way = { $by ->
    [streets] { $leg } along the streets, { $driven } so far
    [straight] { $leg } in a straight line, { $driven } so far
   *[other] Begin here
}
round_near = Utilities on record near the dig: { $utilities }. Others may be there without a record.
round_cautions = The cautions are in round.csv.
round_held_more = { $written ->
    [no] ... and { $more } more; --out FOLDER writes all.
   *[other] ... and { $more } more, all in round_held.csv.
}
round_not_written = No file was written; --out FOLDER writes round.csv, round_held.csv and round.gpkg.
round_fewer = { $stops ->
    [0] No dig is without a recorded hold, so there is no round; { $held } located lines are held.
   *[other] Only { $stops } of { $top } places: no other located line is without a recorded hold. { $held } are held.
}
round_no_start = The round begins at { $line }, the first dig of the ranking; give the yard with --from X Y.
round_no_streets = Ways are straight lines; give street lines with --streets.
round_straight = { $legs ->
    [one] 1 way is a straight line, as the streets given do not lead there: to { $lines }.
   *[other] { $legs } ways are straight lines, as the streets given do not lead there: to { $lines }.
}
round_far = { $stops ->
    [one] 1 mark is
   *[other] { $stops } marks are
} more than { LENGTH($far_m) } from the nearest street given: streets may be missing.
round_streets_assumed = One-way streets, turns and traffic are not considered.

## Changes since the result that a run replaced

changes_since = Since run { $run }: { $some }. The rows are in changes.csv.
changes_none = Since run { $run } no line, mark or hold has changed.
change_line_new = new lines
change_line_gone = lines gone
change_status = lines of another status
change_dig_status = digs of another status
change_mark_new = new marks
change_mark_gone = marks gone
change_mark_moved = marks moved by more than { FOOT() }
change_hold_new = new holds
change_hold_cleared = holds no longer on record

## Locate requests

request_asks = Request to locate and mark utilities before an excavation. It clears nothing: wait for every owner's answer, and ask private owners too.
request_white_line = White line { $name }
request_mark = Mark { $name }

## Texts of summary.csv

summary_mark = mark { $rank } at { LENGTH($chainage_m) } ({ $place })
summary_no_mark = there is no mark to dig at
summary_not_checked = the clearance was not worked out
