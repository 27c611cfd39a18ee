# Places that people type, and stops that are added one by one.

## Places; .remedy is what to do

place_line_unknown = The job has no line { $value }.
    .remedy = Give the line_id of a route of the job.
place_line_unknown_like = The job has no line { $value } ({ JOIN($like, by: ", ") } are near).
    .remedy = Give the line_id of a route of the job.
place_not_read = { $value } is not a place on the line.
    .remedy = Give a length along it, such as 41.5 or 21' 5", or one from a fitting: 21' 5" from CS-12 toward M-3.
place_without_unit = { $value } has no unit.
    .remedy = Write { $number } ft or { $number } m.
place_fitting_unknown = The job has no fitting { $value }.
    .remedy = Give the contact_id of a fitting on the line.
place_fitting_unknown_like = The job has no fitting { $value }.
    .remedy = Give the contact_id of a fitting on the line, such as { JOIN($like, by: ", ") }.
place_beyond_line = { LENGTH($at_m) } is not on the line, which is { LENGTH($route_m) } long.
    .remedy = Check where the tape began, and toward which fitting it ran.

## A stop that is added; .remedy is what to do

stop_place_missing = The place of the stop is missing.
    .remedy = Give at: a length along the line or from a fitting; or its position.
stop_far_from_line = The position is { LENGTH($away_m) } from { $line }.
    .remedy = Check the position, its CRS, and the line.
stop_position_without_crs = { $value } is not a CRS.
    .remedy = Give its code, such as EPSG:4326.
stop_toward_start = No fitting of the line lies that way.
    .remedy = Give the length along the line from its start.
time_in_future = The time is in the future: { DAY($time) }.
    .remedy = Check the date, and the time zone.
stop_into_sheet = Stops can be added to a GeoPackage only; sheets and CSV files are yours to change.
    .remedy = Type the stop into the sheet Stops, or a row into the file of the readings.
stop_added = Stop { $stop } is added to { $line }: level { FIGURES($level, digits: 6) }{ $unit ->
    [db] {" "}dB
    [scale] {" "}on its scale
   *[unknown] {""}
}{ $where ->
    [at] , { LENGTH($at_m) } along the pipe, which is { LENGTH($route_m) } long
   *[unknown] {""}
}.
stop_not_used = It is not used: { $why }
stop_taken = Taken from stop { $from }: { JOIN($taken, by: ", ") }.
taken_sensor = sensor { TERM($value, kind: "sensor") }
taken_sound_unit = level in { $value ->
    [db] dB
   *[scale] units of its scale
}
taken_gain_db = gain { FIGURES($value) } dB
band_low = low
band_high = high
taken_band = band { TERM($value, kind: "band") }
taken_surface = surface { TERM($value, kind: "surface") }
taken_position_sd_m = error of the position { LENGTH($value) }
taken_walk_id = walk { $value }
taken_chainage_from = taped from { $value }
taken_chainage_toward = taped toward { $value }
stop_begins_walk = It begins the walk { $walk }.
