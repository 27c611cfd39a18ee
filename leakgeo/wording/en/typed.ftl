# Faults of files typed from paper sheets, which `template JOB.gpkg --from` reads.

typed_file_not_found = There is no such file.
    .remedy = Check its path.
typed_file_too_large = It has more than { DECIMALS($limit_mb) } MB, so it is no sheet of a crew.
    .remedy = Bring data of that size in with a mapping.
typed_file_unreadable = It can't be read ({ $error }).
    .remedy = Close it where it is open, and check its rights.
typed_file_not_text = It is no text, but a workbook or another binary file.
    .remedy = Save it as CSV.
typed_file_empty = It has no row.
    .remedy = Type the headers of the sheet in the first line, and one stop or fitting in each line after it.
typed_columns_missing = It has no column { JOIN($columns, by: ", ") }, as it would need for { $layer ->
    [contacts] fittings
   *[other] stops
}.
    .remedy = Add { $columns ->
    [one] it
   *[other] them
} with the headers that the sheets print; a value in the first row of a line holds for the rows below it.
typed_headers_alike = Several of its headers mean the same column: { JOIN($headers, by: " and ") }.
    .remedy = Keep one of them, and give the others headers of your own.
typed_tapes_without_unit = { $tapes ->
    [one] 1 tape is a number
   *[other] { $tapes } tapes are numbers
} without a unit, which is never assumed.
    .remedy = Give --units us if they are feet, --units si if they are metres, or add a column { header_tape_unit } with ft or m.
typed_value_missing = It has no { $column }, and there is none above it on its line.
    .remedy = Fill it in.
typed_start_needed = It does not say which fitting the tape began at: the column { header_chainage_from } is empty here and above.
    .remedy = Fill in the name of the fitting, or { start_of_tape } where the tape began at the start of the route.
typed_total = It is a row of totals.
    .remedy = Do nothing unless the word is a name: then give it another.
typed_ditto_without_value = A ditto mark in the column { $column } has no value above it.
    .remedy = Fill in the value.
typed_more_cells = It has { DECIMALS($cells) } cells, and there are { DECIMALS($headers) } headers.
    .remedy = Separate cells by semicolons if decimals have commas, or put a cell with a comma into quotation marks.
typed_list_incomplete = Another fitting in the taped list of its line is left out, and the lengths after that one would be wrong: the list is left out.
    .remedy = Correct that fitting, and give the file again.
typed_filled = { $cells ->
    [one] 1 empty cell takes
   *[other] { DECIMALS($cells) } empty cells take
} the value of the rows above: { JOIN($columns, by: ", ") }.
    .remedy = Do nothing unless something else is meant: then fill it in.
typed_not_used = { $cells ->
    [one] 1 cell stays
   *[other] { DECIMALS($cells) } cells stay
} in your file, as a job has no column for { $cells ->
    [one] it
   *[other] them
}: { JOIN($columns, by: ", ") }.
    .remedy = Keep the file; where a remark means that a stop was disturbed, set set_aside of that stop to true in the job.
typed_address_left = The address of these lines is not added, as only the row of a new line with a taped list takes it: { JOIN($lines) }.
    .remedy = Fill in address in routes.
typed_name_taken = The job has another { $layer ->
    [contacts] fitting
   *[other] stop
} of this name: { $name }.
    .remedy = { $layer ->
    [contacts] Give it a name of its own, or correct the one in the job.
   *[other] Fill in { header_date } or { header_walk } if this is another walk; if a stop was corrected, correct it in the job.
}
typed_there_already = { $rows ->
    [one] 1 row is in the job already, and is
   *[other] { DECIMALS($rows) } rows are in the job already, and are
} not added again.
    .remedy = Do nothing unless other stops were meant.

## What the command template prints

template_job = An empty job is in { $job }.
template_project = An empty job is in { $job }. Open { $project } with QGIS, or copy the folder to a tablet.
template_workbook = An empty workbook is in { $out }.
template_fill = { $text } Fill it in, then: { $then }
template_next = Next: { $check }, then: { $run }
template_draw = Add the fittings with the lengths taped between them, also by --from, or draw the lines in the layer routes of { $job }. Then: { $check }, then: { $run }
template_sheets = { $pages ->
    [one] 1 page to print is
   *[other] { $pages } pages to print are
} in { $out }. Type what comes back under the printed headers, one file of fittings and one of stops, then: { $then }
typed_counts = { $file }: { $rows ->
    [one] 1 row
   *[other] { $rows } rows
}: { JOIN($parts) }.
typed_fittings_added = { $count ->
    [one] 1 fitting added
   *[other] { $count } fittings added
}
typed_stops_added = { $count ->
    [one] 1 stop added
   *[other] { $count } stops added
}
typed_rows_added = { $count ->
    [one] 1 row added
   *[other] { $count } rows added
}
typed_there = { $count } in the job already
typed_left_out = { $count } left out
typed_line = { $file } line { $line }
