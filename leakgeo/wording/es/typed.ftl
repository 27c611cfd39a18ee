# Faltas de los archivos tecleados de hojas de papel, que lee `template JOB.gpkg --from`.

typed_file_not_found = No existe tal archivo.
    .remedy = Revise su ruta.
typed_file_too_large = Tiene más de { DECIMALS($limit_mb) } MB, así que no es la hoja de una cuadrilla.
    .remedy = Traiga datos de ese tamaño con una correspondencia.
typed_file_unreadable = No se puede leer ({ $error }).
    .remedy = Ciérrelo donde esté abierto, y revise sus permisos.
typed_file_not_text = No es texto, sino un libro de cálculo u otro archivo binario.
    .remedy = Guárdelo como CSV.
typed_file_empty = No tiene ninguna fila.
    .remedy = Escriba los encabezados de la hoja en la primera línea, y un punto o accesorio en cada línea siguiente.
typed_columns_missing = No tiene la columna { JOIN($columns, by: ", ") }, que haría falta para { $layer ->
    [contacts] accesorios
   *[other] puntos
}.
    .remedy = Añada { $columns ->
    [one] la columna
   *[other] las columnas
} con los encabezados que imprimen las hojas; un valor en la primera fila de una línea vale para las filas de abajo.
typed_headers_alike = Varios encabezados significan la misma columna: { JOIN($headers, by: " y ") }.
    .remedy = Deje uno, y dé a los otros encabezados propios.
typed_tapes_without_unit = { $tapes ->
    [one] 1 cinta es un número
   *[other] { $tapes } cintas son números
} sin unidad, que nunca se supone.
    .remedy = Dé --units us si son pies, --units si si son metros, o añada una columna { header_tape_unit } con ft o m.
typed_value_missing = No tiene { $column }, y no hay ninguno encima en su línea.
    .remedy = Complételo.
typed_start_needed = No dice en qué accesorio empezó la cinta: la columna { header_chainage_from } está vacía aquí y encima.
    .remedy = Escriba el nombre del accesorio, o { start_of_tape } donde la cinta empezó en el inicio del trazado.
typed_total = Es una fila de totales.
    .remedy = No haga nada, salvo que la palabra sea un nombre: entonces dele otro.
typed_ditto_without_value = Unas comillas de repetición en la columna { $column } no tienen valor encima.
    .remedy = Escriba el valor.
typed_more_cells = Tiene { DECIMALS($cells) } celdas, y hay { DECIMALS($headers) } encabezados.
    .remedy = Separe las celdas con punto y coma si los decimales llevan coma, o ponga entre comillas una celda con coma.
typed_list_incomplete = Otro accesorio en la lista con cinta de su línea queda fuera, y las medidas tras él serían falsas: la lista queda fuera.
    .remedy = Corrija ese accesorio, y dé el archivo otra vez.
typed_filled = { $cells ->
    [one] 1 celda vacía toma
   *[other] { DECIMALS($cells) } celdas vacías toman
} el valor de las filas de arriba: { JOIN($columns, by: ", ") }.
    .remedy = No haga nada, salvo que se quiera decir otra cosa: entonces escríbala.
typed_not_used = { $cells ->
    [one] 1 celda se queda
   *[other] { DECIMALS($cells) } celdas se quedan
} en su archivo, pues un trabajo no tiene columna para { $cells ->
    [one] ella
   *[other] ellas
}: { JOIN($columns, by: ", ") }.
    .remedy = Guarde el archivo; donde una nota diga que algo perturbó un punto, ponga set_aside de ese punto en true en el trabajo.
typed_address_left = No se añade la dirección de estas líneas, pues solo la toma la fila de una línea nueva con lista de cinta: { JOIN($lines) }.
    .remedy = Rellene address en routes.
typed_name_taken = El trabajo tiene otro { $layer ->
    [contacts] accesorio
   *[other] punto
} con este nombre: { $name }.
    .remedy = { $layer ->
    [contacts] Dele un nombre propio, o corrija el del trabajo.
   *[other] Escriba { header_date } o { header_walk } si es otro recorrido; si se corrigió un punto, corríjalo en el trabajo.
}
typed_there_already = { $rows ->
    [one] 1 fila ya está en el trabajo, y no se añade
   *[other] { DECIMALS($rows) } filas ya están en el trabajo, y no se añaden
} otra vez.
    .remedy = No haga nada, salvo que fueran otros puntos.

## Lo que imprime el comando template

template_job = Hay un trabajo vacío en { $job }.
template_project = Hay un trabajo vacío en { $job }. Abra { $project } con QGIS, o copie la carpeta a una tableta.
template_workbook = Hay un libro vacío en { $out }.
template_fill = { $text } Complételo, y luego: { $then }
template_next = Siga con: { $check }, y luego: { $run }
template_draw = Agregue los accesorios con las longitudes medidas entre ellos, también con --from, o dibuje las líneas en la capa routes de { $job }. Luego: { $check }, y después: { $run }
template_sheets = { $pages ->
    [one] Hay 1 página
   *[other] Hay { $pages } páginas
} para imprimir en { $out }. Escriba lo que vuelva bajo los encabezados impresos, un archivo de accesorios y uno de paradas, y luego: { $then }
typed_counts = { $file }: { $rows ->
    [one] 1 fila
   *[other] { $rows } filas
}: { JOIN($parts) }.
typed_fittings_added = { $count ->
    [one] 1 accesorio agregado
   *[other] { $count } accesorios agregados
}
typed_stops_added = { $count ->
    [one] 1 parada agregada
   *[other] { $count } paradas agregadas
}
typed_rows_added = { $count ->
    [one] 1 fila agregada
   *[other] { $count } filas agregadas
}
typed_there = { $count } ya en el trabajo
typed_left_out = { $count ->
    [one] 1 omitida
   *[other] { $count } omitidas
}
typed_line = { $file } línea { $line }
