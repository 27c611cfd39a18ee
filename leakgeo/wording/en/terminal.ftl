# What the terminal prints around the texts of a result.

terminal_caution = Nothing here clears a dig: local law, the one-call centre and licensed people decide.
terminal_caution_where = What still holds each dig is in the map, the report and summary.csv.
terminal_no_stretch = No stretch to walk first: no fitting is louder than the others.
terminal_no_air_test = No air test: no reading was taken with air on and off at one place.
terminal_no_inlets = No step test: name the inlets of the district with --inlets.
terminal_results = Results are in { $out }.
terminal_more_lines = ... and { $more } more lines, all in summary.csv.
terminal_total = { tally_lines }: { $counts }. { terminal_results }
terminal_check_prints = ... and { $more } more; leakgeo check prints all.
terminal_all_faults = ... and { $more } more, all in faults.csv.
terminal_updated = Worked out { $worked } of { tally_lines }; the others had not changed.
mark_of_line = { $line }, mark { $rank }
terminal_digs = Digs: { $message }
terminal_town = A simulated town, of seed { $seed }, is in { $job }.
terminal_rows = { $layer }: { $rows } read
terminal_checked = { $rejected ->
    [one] 1 fault
   *[other] { $rejected } faults
} with rows left out; { $noted ->
    [one] 1 note
   *[other] { $noted } notes
}. Nothing was changed.
terminal_recorded = Record { $dig } is in { $job }. Its page: { $page }; all records: { $table }.
effect_rejected = rejected
effect_noted = noted
effect_stops = stops
terminal_see_help = { $text } See: { $command } --help
