# Faltas de las filas que se añaden a un trabajo y de los libros de cálculo; .remedy es qué hacer.

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
workbook_not_plain = Tiene partes que son más que celdas: { JOIN($parts) }. Un archivo así no se abre.
    .remedy = Guarde solo las hojas, sin macros, enlaces a otros archivos ni conexiones de datos, como un libro nuevo.
workbook_damaged = No es un libro de cálculo completo ({ $error }).
    .remedy = Ábralo en una hoja de cálculo y guárdelo de nuevo.
workbook_expands = Sus partes están más comprimidas que las de cualquier hoja, o son demasiadas.
    .remedy = Ábralo en una hoja de cálculo y guárdelo de nuevo; pregunte a quien lo envió.
