# Faults of the sources of a job, and of a mapping; .remedy is what to do.

## The job

not_a_source = A { $type } is neither a path nor tables by the names of layers.
    .remedy = Give a path, or { "{" }"routes": ..., "readings": ...{ "}" }.
not_a_local_file = The job is not a local file.
    .remedy = Copy it to this machine first.
no_such_file = There is no such file or folder.
    .remedy = Check the path of the job.
job_is_result = This is a result of leakgeo, not a job.
    .remedy = Give the job that was run. The command learn takes the result of the digs besides: leakgeo learn JOB --results { $result }
result_tables_left_out = { $tables ->
    [one] 1 table
   *[other] { $tables } tables
} in { $schemas } that leakgeo wrote as results { $tables ->
    [one] is
   *[other] are
} left out: no job is made of results.
layers_not_used = Layers that are not used: { JOIN($layers) }{ $more ->
    [0] {""}
   *[other] {" "}and { $more } more
}{ $kind ->
   *[other] .
    [one_utility] ; { $utilities } may be a utility: no hold is made of it.
    [utilities] ; { $utilities } may be utilities: no hold is made of them.
}
    .remedy = { $kind ->
   *[other] If one belongs to the job, name it in a mapping: leakgeo mapping JOB drafts one.
    [one_utility] If so, name it as one of the utilities in a mapping: leakgeo mapping JOB drafts one.
    [utilities] If so, name them as utilities in a mapping: leakgeo mapping JOB drafts one.
}
packed_or_virtual = The job is packed or virtual.
    .remedy = Unpack it, or give the file itself.
layer_in_two_files = Both { JOIN($files, by: " and ") } hold it; the first was read.
    .remedy = Leave one of them in the folder.

## A layer

layer_unreadable = It can't be read ({ $error }).
    .remedy = Open it in a GIS, and save it again.
not_a_table = It is of the kind { $type }, not a table.
    .remedy = Give a GeoDataFrame.
layer_mixes_crs = It can't be read: it mixes CRS (SRID { $srids }).
    .remedy = Transform all its geometry to one CRS.
columns_of_one_name = Several columns have the same name, and none of them is read: { $columns }.
    .remedy = Give each a name of its own.
parts_in_several_crs = Its parts were in several CRS; all were transformed to that of the first.
    .remedy = Check the layer in a GIS.
parts_in_two_feet = Its parts have one projection, but different feet: { $crs } has { $foot ->
    [international] international feet
   *[us_survey] US survey feet
}, and { $first_crs }, that of the first part, has not. If that is a mistake, those positions are { LENGTH($moved_m) } off.
    .remedy = Ask who made it which foot its coordinates are in, and set that CRS; nothing was changed.

## A file

path_misread = Its path contains { JOIN($signs, by: " and ") }, so that readers would open another file.
    .remedy = Rename the file or its folder.
file_without_ending = Files without ending are not read.
    .remedy = Save it as a GeoPackage; the README lists what else is read.
file_kind_not_read = Files of the kind { $ending } are not read.
    .remedy = Save it as a GeoPackage; the README lists what else is read.
geodatabase_is_file = A File Geodatabase is a folder, and this is a file.
    .remedy = Give the folder, or save its layers as a GeoPackage.
folder_not_file = It is a folder, and should be a file.
    .remedy = Rename it, or give the file itself.
geodatabase_incomplete = The folder is not a File Geodatabase, or is incomplete.
    .remedy = Copy all of it, or save its layers as a GeoPackage.
file_points_elsewhere = The file only refers to data in other files.
    .remedy = Give the file that holds the data.
file_empty = The file is empty.
    .remedy = Give a GeoPackage, or another file that a GIS opens.
file_disguised = The file does not have the format of its ending { $ending }, or is damaged.
    .remedy = Give a GeoPackage, or another file that a GIS opens.
file_unreadable = The file can't be read as vector data ({ $error }).
    .remedy = Give a GeoPackage, or another file that a GIS opens.
file_without_layer = The file has no layer.
    .remedy = Give a GeoPackage, or another file that a GIS opens.
file_damaged = The file is damaged.
    .remedy = Save it again with the program that it came from.
file_has_entities = The file declares XML entities, which may read other files.
    .remedy = Save it again with a GIS or a receiver.
shapefile_incomplete = A Shapefile is several files: { JOIN($files, by: " and ") } is missing beside it.
    .remedy = Copy all of its files.
crs_is_link = Its CRS is a link to another file, or can't be read.
    .remedy = Export it in longitude and latitude (WGS 84), or as a GeoPackage.
schema_elsewhere = It refers to a schema in another folder.
    .remedy = Save it again with a GIS, as a GeoPackage.
table_of_tables = The table is composed of other tables.
    .remedy = Give a table that holds the data itself.
too_large = Reading it would take about { FIGURES($needed_gb, digits: 3) } GB of memory; the limit is { FIGURES($limit_gb, digits: 6) } GB.
    .remedy = Cut it to the area of the job and to the columns that are used; or, if the machine has the memory, set { $variable } to more.
gdal_too_old = This GDAL can't open a file with one driver alone: version { $needed } or newer is needed.
    .remedy = Install pyogrio from PyPI, or a newer GDAL.

## An SQLite file, and another program that has it open

database_file_damaged = The file is damaged ({ $error }).
    .remedy = Save it again with a GIS, or use an older copy.
view_too_long = Its view { $view } is computed by SQL that returns too many rows.
    .remedy = Write it as a table in a GIS, and remove it from the file.
view_too_slow = Its view { $view } is computed by SQL that takes too long.
    .remedy = Write it as a table in a GIS, and remove it from the file.
view_not_run = Its view { $view } is computed by SQL that is not run here.
    .remedy = Write it as a table in a GIS, and remove it from the file.
table_reaches_out = Its table { $table } refers to data outside the file.
    .remedy = Write it as a table in a GIS, and remove it from the file.
table_computed = Its table { $table } has columns that SQL computes on reading.
    .remedy = Write it as a table in a GIS, and remove it from the file.
saved_while_read = Another program saved it while it was read.
    .remedy = Save and close it there, and run again.
several_files_unfinished = Another program stopped while it changed several files at once.
    .remedy = Open all of them in that program, so that it finishes.
being_written = Another program is writing it at this moment.
    .remedy = Save the edits there, wait for it, and run again.
watch_needs_files = Only files are watched: a database does not show that it was changed.
    .remedy = Export it as a GeoPackage, or run again after each change.
file_or_log_damaged = The file, or the log beside it, is damaged ({ $error }).
    .remedy = Keep both as they are. Open the file in the program that has written it, and save it there under another name.
no_copy = Another program has it open, and it can't be copied to { $folder } ({ $error }).
    .remedy = Save and close it there, or free disk space.
unmerged_edits = Another program has it open, with edits not yet merged into the file; they were read too.
    .remedy = Save and close it there, so that file and record agree.
unsaved_change = Another program is changing it, or stopped during a change; what it had not saved was not read.
    .remedy = Save and close it there. Keep { $file }-journal beside it until then: without it the file is damaged.

## Rows to append to a job

append_needs_geopackage = Rows can be added to a GeoPackage only.
    .remedy = Save the job as a GeoPackage, or add the rows with your GIS.
append_into_sheet = Rows can be added to a GeoPackage only; sheets and CSV files are yours to change.
    .remedy = Type what a dig showed into the sheet Digs, and a meter test into Meter tests; then run the job again.
append_unknown_layer = The data contract has no such layer.
    .remedy = Use one of: { JOIN($layers) }.
append_without_routes = The file has no layer routes.
    .remedy = Give the GeoPackage of the job. If it is read with a mapping, add the rows with your GIS.
append_not_a_table = The file has a view or an index of this name, not a layer.
    .remedy = Rename it, or add the rows with your GIS.
append_other_columns = The layer has other column names: it lacks { JOIN($columns) }.
    .remedy = Add the rows with your GIS, as the job is read with a mapping; or rename the columns.
append_identifier_taken = The layer has a row with this { $column }.
    .remedy = Give another, or correct that row.
append_column_of_numbers = The file stores { $column } as numbers.
    .remedy = Give digits alone, or change the type of the column in a GIS.
append_layer_without_geometry = The layer has no geometry.
    .remedy = Give the rows without geometry, or add one to the layer in a GIS.
append_not_a_point = Its geometry is not a point that the CRS of the layer can hold.
    .remedy = Give a point near the routes, or none.

## A database

database_needs_psycopg = Databases need psycopg.
    .remedy = Call pip install '.[postgis]' in the copy of the repository, or pip install --no-index --find-links wheelhouse 'leakgeo[postgis]' with a wheelhouse.
database_refuses_login = The database rejects the user name or the password.
    .remedy = Check them; the password can be in ~/.pgpass or PGPASSWORD.
database_wants_password = The database requires a password.
    .remedy = Put it in ~/.pgpass, in PGPASSWORD, or in the URL.
database_unknown = There is no such database or user.
    .remedy = Check the URL.
database_refuses_machine = The database does not accept connections from this machine.
    .remedy = Ask its administrator.
database_silent = The database does not answer.
    .remedy = Check host and port.
database_not_there = Nothing answers at that host and port.
    .remedy = Check the URL, and that it runs.
host_not_found = The host is not found.
    .remedy = Check the URL.
database_not_opened = The database can't be opened.
    .remedy = Check the URL.

## A mapping

mapping_mistakes = { $mistakes ->
    [one] the mapping has 1 mistake
   *[other] the mapping has { $mistakes } mistakes
}.
    .remedy = Correct the file, and run again.
mapping_too_large = It is too large for a mapping.
    .remedy = Give the TOML file.
mapping_unreadable = It can't be read ({ $error }).
    .remedy = Check the path of the mapping.
mapping_not_utf8 = It is not text in UTF-8.
    .remedy = Save it as UTF-8.
not_toml = It is not TOML: { $error }.
    .remedy = Correct the line.
toml_too_deep = It can't be read as TOML.
    .remedy = Make it simpler.
time_zone_unknown = time_zone is not a time zone: '{ $given }'.
    .remedy = Give one such as "America/Chicago" or "UTC".
decimal_unknown = decimal is neither a point nor a comma.
    .remedy = Write decimal = "," where numbers have a comma, or leave it out.
did_you_mean = Did you mean { $name }?
use_one_of = Use one of: { $names }{ $more ->
    [0] {""}
   *[other] {" "}and { $more } more
}.
there_is_none = There is none.
not_a_contract_layer = { $layer } is not a layer of the contract.
    .remedy = { $meant }
layer_not_a_table = { $layer } is not a table.
    .remedy = Begin it with [{ $layer }].
layer_takes_no_key = { $layer } takes no key { $key }.
    .remedy = { $meant }
put_under_columns = Put it under [{ $layer }.columns].
not_a_name = { $key } is not a name in quotes.
    .remedy = Write { $key } = "...".
one_of_x_and_y = Only one of x and y is given.
    .remedy = Name both columns of coordinates.
x_and_y_for_no_points = { $layer } does not hold points: x and y can't place it.
    .remedy = Give a layer with geometry.
crs_unknown = crs is not a coordinate reference system on the earth.
    .remedy = Give one such as "EPSG:2277".
columns_not_a_table = columns is not a table.
    .remedy = Begin it with [{ $layer }.columns].
not_a_contract_column = { $layer } has no column { $column }.
    .remedy = { $meant }
column_renamed = Its name is now { $now }, which is true where { $was } was false.
not_a_column_name = { $column } is not the name of a column.
    .remedy = Write { $column } = "COLUMN", or { "{" } value = ... { "}" } for a constant.
column_takes_no_key = A column takes no key { $key }.
    .remedy = { $meant }
column_or_value = { $column } needs either column or value.
    .remedy = Name the source's column, or give a constant as value.
value_unfit = value does not fit { $column }: '{ $given }'.
    .remedy = { $expected }
unit_unfit = unit '{ $unit }' does not fit { $column }.
    .remedy = { $expected }
give_volume_unit = Give volume_unit as a constant, such as { "{" } value = "gal" { "}" }.
column_has_no_unit = Remove unit: the column has none.
values_unusable = values can't be used for { $column }.
    .remedy = Write { "{" } "OWN CODE" = "code of the contract" { "}" }.
no_such_value = '{ $given }' is not a value of { $column }.
    .remedy = { $expected }
write_true_or_false = Write true or false, without quotes.
give_number = Give a number, without quotes.
give_text = Give text in quotes.
missing_not_a_list = missing is not a list of values.
    .remedy = Write ["-9999", "none"].
column_not_a_time = { $column } is not a time.
    .remedy = Remove { $key }.
date_format_unusable = date_format can't be used: '{ $given }'.
    .remedy = Write it as "%m/%d/%Y %H:%M", or "unix" or "unix_ms".

## A mapping and the source that it is for

mapped_source_unreadable = { $source }: { $why }
    .remedy = Give another file or layer.
source_has_no_files = A database has no files.
    .remedy = Give the table as layer.
file_outside_job = It is not in the folder of the job.
    .remedy = Move it there.
no_such_layer = There is no layer { $layer }.
    .remedy = { $meant }
source_lacks_column = The source has no column { $column }.
    .remedy = { $meant }
parts_without_geometry = Only some parts of the layer have geometry and CRS.
    .remedy = Give x, y and crs for the others.
coordinates_without_crs = The coordinates have no CRS.
    .remedy = Say which they are in, such as crs = "EPSG:4326".
coordinates_no_numbers = { $texts } coordinates are not numbers: { $some }.
    .remedy = Correct them in the source.
geometry_given_twice = The layer has geometry already.
    .remedy = Remove x and y.
crs_given_twice = The layer has a CRS of its own: { $crs }.
    .remedy = Remove crs, or correct the layer in a GIS.
values_not_covered = Values of { $column } are not covered by the mapping: { $found }{ $more ->
    [0] {""}
   *[other] {" "}and { $more } more
}.
    .remedy = Add them under values, each with its code.
workbook_not_plain = It has parts that are more than cells: { JOIN($parts) }. Such a file is not opened.
    .remedy = Save the sheets alone, without macros, links to other files or data connections, as a new workbook.
workbook_damaged = It is no whole workbook ({ $error }).
    .remedy = Open it in a spreadsheet, and save it again.
workbook_expands = Its parts are packed more densely than any sheet, or there are too many of them.
    .remedy = Open it in a spreadsheet, and save it again; ask whoever sent it.
job_stops = { $source }: the job can't be run. { $causes }
