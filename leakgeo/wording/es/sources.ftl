# Faltas de las fuentes de un trabajo, y de una correspondencia; .remedy es qué hacer.

## El trabajo

not_a_source = Un { $type } no es ni una ruta ni tablas por nombre de capa.
    .remedy = Dé una ruta, o { "{" }"routes": ..., "readings": ...{ "}" }.
not_a_local_file = El trabajo no es un archivo local.
    .remedy = Cópielo primero a esta máquina.
no_such_file = No existe ese archivo o carpeta.
    .remedy = Revise la ruta del trabajo.
job_is_result = Es un resultado de leakgeo, no un trabajo.
    .remedy = Dé el trabajo que se ejecutó. La orden learn toma además el resultado de las excavaciones: leakgeo learn JOB --results { $result }
result_tables_left_out = { $tables ->
    [one] 1 tabla
   *[other] { $tables } tablas
} de { $schemas } que leakgeo escribió como resultados no se { $tables ->
    [one] lee
   *[other] leen
}: de resultados no se hace un trabajo.
layers_not_used = Capas que no se usan: { JOIN($layers) }{ $more ->
    [0] {""}
   *[other] {" "}y { $more } más
}{ $kind ->
   *[other] .
    [one_utility] ; { $utilities } puede ser un servicio enterrado: no da lugar a ningún impedimento.
    [utilities] ; { $utilities } pueden ser servicios enterrados: no dan lugar a ningún impedimento.
}
    .remedy = { $kind ->
   *[other] Si alguna es del trabajo, nómbrela en una correspondencia: leakgeo mapping JOB escribe un borrador.
    [one_utility] Si lo es, nómbrela como uno de los servicios en una correspondencia: leakgeo mapping JOB escribe un borrador.
    [utilities] Si lo son, nómbrelas como servicios en una correspondencia: leakgeo mapping JOB escribe un borrador.
}
packed_or_virtual = El trabajo está comprimido o es virtual.
    .remedy = Descomprímalo, o dé el archivo mismo.
layer_in_two_files = La contienen { JOIN($files, by: " y ") }; se leyó el primero.
    .remedy = Deje uno de ellos en la carpeta.

## Una capa

layer_unreadable = No se puede leer ({ $error }).
    .remedy = Ábrala en un SIG, y guárdela de nuevo.
not_a_table = Es de tipo { $type }, no una tabla.
    .remedy = Dé un GeoDataFrame.
layer_mixes_crs = No se puede leer: mezcla SRC (SRID { $srids }).
    .remedy = Transforme toda su geometría a un solo SRC.
columns_of_one_name = Varias columnas tienen el mismo nombre, y no se lee ninguna: { $columns }.
    .remedy = Dé a cada una un nombre propio.
parts_in_several_crs = Sus partes estaban en varios SRC; todas se transformaron al de la primera.
    .remedy = Revise la capa en un SIG.
parts_in_two_feet = Sus partes tienen una misma proyección, pero pies distintos: { $crs } tiene { $foot ->
    [international] pies internacionales
   *[us_survey] pies topográficos de EE. UU.
}, y { $first_crs }, el de la primera parte, no. Si es un error, esas posiciones están desplazadas { LENGTH($moved_m) }.
    .remedy = Pregunte a quien la hizo en qué pie están sus coordenadas, y ponga ese SRC; no se cambió nada.

## Un archivo

path_misread = Su ruta contiene { JOIN($signs, by: " y ") }, de modo que se abriría otro archivo.
    .remedy = Cambie el nombre del archivo o de su carpeta.
file_without_ending = No se leen archivos sin extensión.
    .remedy = Guárdelo como GeoPackage; el README lista qué más se lee.
file_kind_not_read = No se leen archivos de tipo { $ending }.
    .remedy = Guárdelo como GeoPackage; el README lista qué más se lee.
geodatabase_is_file = Una File Geodatabase es una carpeta, y esto es un archivo.
    .remedy = Dé la carpeta, o guarde sus capas como GeoPackage.
folder_not_file = Es una carpeta, y debería ser un archivo.
    .remedy = Cámbiele el nombre, o dé el archivo mismo.
geodatabase_incomplete = La carpeta no es una File Geodatabase, o está incompleta.
    .remedy = Cópiela entera, o guarde sus capas como GeoPackage.
file_points_elsewhere = El archivo solo remite a datos de otros archivos.
    .remedy = Dé el archivo que contiene los datos.
file_empty = El archivo está vacío.
    .remedy = Dé un GeoPackage, u otro archivo que abra un SIG.
file_disguised = El archivo no tiene el formato de su extensión { $ending }, o está dañado.
    .remedy = Dé un GeoPackage, u otro archivo que abra un SIG.
file_unreadable = El archivo no se puede leer como datos vectoriales ({ $error }).
    .remedy = Dé un GeoPackage, u otro archivo que abra un SIG.
file_without_layer = El archivo no tiene ninguna capa.
    .remedy = Dé un GeoPackage, u otro archivo que abra un SIG.
file_damaged = El archivo está dañado.
    .remedy = Guárdelo de nuevo con el programa del que viene.
file_has_entities = El archivo declara entidades XML, que pueden leer otros archivos.
    .remedy = Guárdelo de nuevo con un SIG o un receptor.
shapefile_incomplete = Un Shapefile son varios archivos: al lado falta { JOIN($files, by: " y ") }.
    .remedy = Copie todos sus archivos.
crs_is_link = Su SRC es un enlace a otro archivo, o no se puede leer.
    .remedy = Expórtelo en longitud y latitud (WGS 84), o como GeoPackage.
schema_elsewhere = Remite a un esquema de otra carpeta.
    .remedy = Guárdelo de nuevo con un SIG, como GeoPackage.
table_of_tables = La tabla se compone de otras tablas.
    .remedy = Dé una tabla que contenga ella misma los datos.
too_large = Leerlo tomaría unos { FIGURES($needed_gb, digits: 3) } GB de memoria; el límite es de { FIGURES($limit_gb, digits: 6) } GB.
    .remedy = Recórtelo al área del trabajo y a las columnas que se usan; o, si la máquina tiene esa memoria, ponga un valor mayor en { $variable }.
gdal_too_old = Este GDAL no puede abrir un archivo con un solo controlador: hace falta la versión { $needed } o una más nueva.
    .remedy = Instale pyogrio de PyPI, o un GDAL más nuevo.

## Un archivo SQLite, y otro programa que lo tiene abierto

database_file_damaged = El archivo está dañado ({ $error }).
    .remedy = Guárdelo de nuevo con un SIG, o use una copia anterior.
view_too_long = Su vista { $view } se calcula con SQL que devuelve demasiadas filas.
    .remedy = Escríbala como tabla en un SIG, y quítela del archivo.
view_too_slow = Su vista { $view } se calcula con SQL que tarda demasiado.
    .remedy = Escríbala como tabla en un SIG, y quítela del archivo.
view_not_run = Su vista { $view } se calcula con SQL que aquí no se ejecuta.
    .remedy = Escríbala como tabla en un SIG, y quítela del archivo.
table_reaches_out = Su tabla { $table } remite a datos de fuera del archivo.
    .remedy = Escríbala como tabla en un SIG, y quítela del archivo.
table_computed = Su tabla { $table } tiene columnas que SQL calcula al leer.
    .remedy = Escríbala como tabla en un SIG, y quítela del archivo.
saved_while_read = Otro programa lo guardó mientras se leía.
    .remedy = Guárdelo y ciérrelo allí, y ejecute de nuevo.
several_files_unfinished = Otro programa se detuvo mientras cambiaba varios archivos a la vez.
    .remedy = Ábralos todos en ese programa, para que termine.
being_written = Otro programa lo está escribiendo en este momento.
    .remedy = Guarde allí los cambios, espere a que acabe, y ejecute de nuevo.
watch_needs_files = Solo se vigilan archivos: una base de datos no muestra que se cambió.
    .remedy = Expórtela como GeoPackage, o ejecute de nuevo después de cada cambio.
file_or_log_damaged = El archivo, o el registro que está al lado, está dañado ({ $error }).
    .remedy = Conserve ambos como están. Abra el archivo en el programa que lo escribió, y guárdelo allí con otro nombre.
no_copy = Otro programa lo tiene abierto, y no se puede copiar a { $folder } ({ $error }).
    .remedy = Guárdelo y ciérrelo allí, o libere espacio en el disco.
unmerged_edits = Otro programa lo tiene abierto, con cambios aún no incorporados al archivo; también se leyeron.
    .remedy = Guárdelo y ciérrelo allí, para que el archivo y el registro coincidan.
unsaved_change = Otro programa lo está cambiando, o se detuvo durante un cambio; no se leyó lo que no había guardado.
    .remedy = Guárdelo y ciérrelo allí. Hasta entonces conserve { $file }-journal al lado: sin él, el archivo está dañado.

## Filas que se añaden a un trabajo

append_needs_geopackage = Solo se pueden añadir filas a un GeoPackage.
    .remedy = Guarde el trabajo como GeoPackage, o añada las filas con su SIG.
append_into_sheet = Solo se pueden añadir filas a un GeoPackage; las hojas y los archivos CSV los cambia usted.
    .remedy = Escriba lo que mostró la excavación en la hoja Digs, y una prueba del medidor en Meter tests; luego calcule de nuevo.
append_unknown_layer = El contrato de datos no tiene esa capa.
    .remedy = Use una de: { JOIN($layers) }.
append_without_routes = El archivo no tiene la capa routes.
    .remedy = Dé el GeoPackage del trabajo. Si se lee con una correspondencia, añada las filas con su SIG.
append_not_a_table = El archivo tiene una vista o un índice con ese nombre, no una capa.
    .remedy = Cámbiele el nombre, o añada las filas con su SIG.
append_other_columns = La capa tiene otros nombres de columna: le falta { JOIN($columns) }.
    .remedy = Añada las filas con su SIG, pues el trabajo se lee con una correspondencia; o cambie los nombres de las columnas.
append_identifier_taken = La capa ya tiene una fila con ese { $column }.
    .remedy = Dé otro, o corrija esa fila.
append_column_of_numbers = El archivo guarda { $column } como números.
    .remedy = Dé solo dígitos, o cambie el tipo de la columna en un SIG.
append_layer_without_geometry = La capa no tiene geometría.
    .remedy = Dé las filas sin geometría, o añada una a la capa en un SIG.
append_not_a_point = Su geometría no es un punto que quepa en el SRC de la capa.
    .remedy = Dé un punto cerca de los trazados, o ninguno.

## Una base de datos

database_needs_psycopg = Las bases de datos necesitan psycopg.
    .remedy = Ejecute pip install '.[postgis]' en la copia del repositorio, o pip install --no-index --find-links wheelhouse 'leakgeo[postgis]' con una carpeta de paquetes (wheelhouse).
database_refuses_login = La base de datos rechaza el usuario o la contraseña.
    .remedy = Revíselos; la contraseña puede estar en ~/.pgpass o en PGPASSWORD.
database_wants_password = La base de datos pide una contraseña.
    .remedy = Póngala en ~/.pgpass, en PGPASSWORD, o en la URL.
database_unknown = No existe esa base de datos o ese usuario.
    .remedy = Revise la URL.
database_refuses_machine = La base de datos no acepta conexiones de esta máquina.
    .remedy = Pregunte a quien la administra.
database_silent = La base de datos no responde.
    .remedy = Revise el servidor y el puerto.
database_not_there = Nada responde en ese servidor y puerto.
    .remedy = Revise la URL, y que esté en marcha.
host_not_found = No se encuentra el servidor.
    .remedy = Revise la URL.
database_not_opened = La base de datos no se puede abrir.
    .remedy = Revise la URL.

## Una correspondencia

mapping_mistakes = { $mistakes ->
    [one] la correspondencia tiene 1 error
   *[other] la correspondencia tiene { $mistakes } errores
}.
    .remedy = Corrija el archivo, y ejecute de nuevo.
mapping_too_large = Es demasiado grande para una correspondencia.
    .remedy = Dé el archivo TOML.
mapping_unreadable = No se puede leer ({ $error }).
    .remedy = Revise la ruta de la correspondencia.
mapping_not_utf8 = No es texto en UTF-8.
    .remedy = Guárdelo como UTF-8.
not_toml = No es TOML: { $error }.
    .remedy = Corrija la línea.
toml_too_deep = No se puede leer como TOML.
    .remedy = Hágalo más sencillo.
time_zone_unknown = time_zone no es un huso horario: '{ $given }'.
    .remedy = Dé uno como "America/Chicago" o "UTC".
decimal_unknown = decimal no es ni un punto ni una coma.
    .remedy = Escriba decimal = "," donde los números llevan coma, o quítelo.
did_you_mean = ¿Quiso decir { $name }?
use_one_of = Use uno de: { $names }{ $more ->
    [0] {""}
   *[other] {" "}y { $more } más
}.
there_is_none = No hay ninguno.
not_a_contract_layer = { $layer } no es una capa del contrato.
    .remedy = { $meant }
layer_not_a_table = { $layer } no es una tabla.
    .remedy = Empiécela con [{ $layer }].
layer_takes_no_key = { $layer } no admite la clave { $key }.
    .remedy = { $meant }
put_under_columns = Póngala bajo [{ $layer }.columns].
not_a_name = { $key } no es un nombre entre comillas.
    .remedy = Escriba { $key } = "...".
one_of_x_and_y = Solo se da una de x e y.
    .remedy = Nombre las dos columnas de coordenadas.
x_and_y_for_no_points = { $layer } no contiene puntos: x e y no la pueden situar.
    .remedy = Dé una capa con geometría.
crs_unknown = crs no es un sistema de referencia de coordenadas de la tierra.
    .remedy = Dé uno como "EPSG:2277".
columns_not_a_table = columns no es una tabla.
    .remedy = Empiécela con [{ $layer }.columns].
not_a_contract_column = { $layer } no tiene la columna { $column }.
    .remedy = { $meant }
column_renamed = Ahora se llama { $now }, que es verdadero donde { $was } era falso.
not_a_column_name = { $column } no es el nombre de una columna.
    .remedy = Escriba { $column } = "COLUMN", o { "{" } value = ... { "}" } para una constante.
column_takes_no_key = Una columna no admite la clave { $key }.
    .remedy = { $meant }
column_or_value = { $column } necesita o bien column o bien value.
    .remedy = Nombre la columna de la fuente, o dé una constante en value.
value_unfit = value no corresponde a { $column }: '{ $given }'.
    .remedy = { $expected }
unit_unfit = unit '{ $unit }' no corresponde a { $column }.
    .remedy = { $expected }
give_volume_unit = Dé volume_unit como constante, como { "{" } value = "gal" { "}" }.
column_has_no_unit = Quite unit: la columna no tiene unidad.
values_unusable = values no se puede usar en { $column }.
    .remedy = Escriba { "{" } "CÓDIGO PROPIO" = "código del contrato" { "}" }.
no_such_value = '{ $given }' no es un valor de { $column }.
    .remedy = { $expected }
write_true_or_false = Escriba true o false, sin comillas.
give_number = Dé un número, sin comillas.
give_text = Dé un texto entre comillas.
missing_not_a_list = missing no es una lista de valores.
    .remedy = Escriba ["-9999", "none"].
column_not_a_time = { $column } no es una hora.
    .remedy = Quite { $key }.
date_format_unusable = date_format no se puede usar: '{ $given }'.
    .remedy = Escríbalo como "%m/%d/%Y %H:%M", o "unix" o "unix_ms".

## Una correspondencia y la fuente para la que es

mapped_source_unreadable = { $source }: { $why }
    .remedy = Dé otro archivo u otra capa.
source_has_no_files = Una base de datos no tiene archivos.
    .remedy = Dé la tabla en layer.
file_outside_job = No está en la carpeta del trabajo.
    .remedy = Muévalo allí.
no_such_layer = No hay ninguna capa { $layer }.
    .remedy = { $meant }
source_lacks_column = La fuente no tiene la columna { $column }.
    .remedy = { $meant }
parts_without_geometry = Solo algunas partes de la capa tienen geometría y SRC.
    .remedy = Dé x, y y crs para las demás.
coordinates_without_crs = Las coordenadas no tienen SRC.
    .remedy = Diga en cuál están, como crs = "EPSG:4326".
coordinates_no_numbers = { $texts } coordenadas no son números: { $some }.
    .remedy = Corríjalas en la fuente.
geometry_given_twice = La capa ya tiene geometría.
    .remedy = Quite x e y.
crs_given_twice = La capa tiene su propio SRC: { $crs }.
    .remedy = Quite crs, o corrija la capa en un SIG.
values_not_covered = La correspondencia no cubre valores de { $column }: { $found }{ $more ->
    [0] {""}
   *[other] {" "}y { $more } más
}.
    .remedy = Añádalos en values, cada uno con su código.
workbook_not_plain = Tiene partes que son más que celdas: { JOIN($parts) }. Un archivo así no se abre.
    .remedy = Guarde solo las hojas, sin macros, enlaces a otros archivos ni conexiones de datos, como un libro nuevo.
workbook_damaged = No es un libro de cálculo completo ({ $error }).
    .remedy = Ábralo en una hoja de cálculo y guárdelo de nuevo.
workbook_expands = Sus partes están más comprimidas que las de cualquier hoja, o son demasiadas.
    .remedy = Ábralo en una hoja de cálculo y guárdelo de nuevo; pregunte a quien lo envió.
job_stops = { $source }: el trabajo no se puede ejecutar. { $causes }
