# The dig that is closed: what is wrong with what was reported, what is believed now, and the record.

## Faults; .remedy is what to do

closing_leak_outside = The leak, at { LENGTH($at_m) }, is outside the pipe that was seen, { SPAN($from_m, $to_m) }.
    .remedy = Correct one of them.
closing_far_from_mark = The leak is recorded { LENGTH($off_m) } from the mark that was dug.
    .remedy = Check the line, the fitting and the direction of the tape; correct a wrong place by a record that supersedes this one.
closing_repair_without_leak = A repair is reported, and no leak.
    .remedy = Report the leak as found, or leave the repair out.
closing_place_missing = The place of the leak is missing.
    .remedy = Give at: its place from a fitting, or along the line.
closing_exposed_missing = The pipe that was seen dry is missing.
    .remedy = Give exposed: both of its ends.
closing_meter_incomplete = The meter test lacks { JOIN($lacking, by: ", ") }.
    .remedy = Give start, end, minutes and unit, or none of them.
closing_no_minutes = No time passed between the two readings of the meter.
    .remedy = Give the minutes between them.
closing_photo_missing = There is no photo { $value }.
    .remedy = Check its path.
closing_photo_name = The name of the photo { $value } has a semicolon, which separates names.
    .remedy = Rename it.
closing_record_unknown = The job has no record { $value }.
    .remedy = Give the dig_id of the record to correct.
closing_record_unknown_like = The job has no record { $value } ({ JOIN($like, by: ", ") } are near).
    .remedy = Give the dig_id of the record to correct.
closing_record_of_other_line = That record is of line { $line }.
    .remedy = Give a record of this line.

## What is believed of a line after its latest dig

closed_nothing = No dig is recorded on this line.
closed_dry = The pipe was seen dry{ $where ->
    [span] {" "}at { SPAN($from_m, $to_m) }
   *[unknown] {""}
}: the leak is elsewhere, if there is one.
closed_not_reached = The hole did not reach the pipe: it shows nothing of the leak.
closed_not_repaired = A leak was seen{ $where ->
    [at] {" "}at { LENGTH($at_m) }
    [span] {" "}at { SPAN($from_m, $to_m) }
   *[unknown] {""}
}, and is not repaired: it is still there.
closed_repaired = The leak{ $where ->
    [at] {" "}at { LENGTH($at_m) }
    [span] {" "}at { SPAN($from_m, $to_m) }
   *[unknown] {""}
} was repaired on { DAY($day) }. What was heard before no longer counts.
closed_stands_still = The meter stood still for { FIGURES($minutes) } minutes afterwards: no loss is shown.
closed_still_turns = The meter still turned afterwards, by { LITRES($loss_l) } a day: there is another leak, or water is used.
closed_walk_again = Walk the line again.
closed_read_meter = Nothing was measured since: read the meter twice, with no water used.
closed_run_again = Results made before (list, map, report) still show the mark: run the job again, with --update, or with --overwrite.

## The page of the record

record_title = Record of a dig
record_time = When
record_crew = Crew
record_leak_at = Leak
record_along = along the line
record_exposed = Pipe seen
record_repaired = Repaired
record_cause = Cause
record_before = Meter before
record_after = Meter after
record_mark = Mark that was dug
record_off_mark = From the mark to the leak
record_run = Run
record_photos = Photos
record_note = Note
record_supersedes = Corrects record
record_superseded_by = Corrected by
record_yes = yes
record_no = no
record_leak = a leak
record_dry = dry pipe, no leak
record_pipe_not_reached = the pipe was not reached
record_unknown = not recorded
record_start = start
record_end = end
record_the_leak = leak
record_the_mark = mark
record_toward_start = toward the start of the route
record_toward_end = toward the end of the route
record_not_scaled = Sketch along the pipe, to scale along it; lengths from the start of the route.
record_page_written = page written { DAY($at) }
record_superseded = Record { $by } corrects this one: it no longer counts.
record_caution = A record of what was seen. It states nothing about other pipes and cables here: before any further dig, have the ground marked, follow local law, and let licensed people decide.
record_signed_crew = Crew (name, signature, date)
record_signed_utility = Received for the utility (name, signature, date)
record_turned = turned, { $loss } in { FIGURES($minutes) } minutes on { DAY($day) }
record_stood = stood still for { FIGURES($minutes) } minutes on { DAY($day) }
