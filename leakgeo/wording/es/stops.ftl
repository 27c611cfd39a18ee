# Lugares que se escriben, y puntos de escucha que se añaden uno a uno.

place_line_unknown = El trabajo no tiene la línea { $value }.
    .remedy = Dé el line_id de un trazado del trabajo.
place_line_unknown_like = El trabajo no tiene la línea { $value } (parecidas: { JOIN($like, by: ", ") }).
    .remedy = Dé el line_id de un trazado del trabajo.
place_not_read = { $value } no es un lugar de la línea.
    .remedy = Dé una longitud a lo largo de ella, como 41.5 o 21' 5", o desde un accesorio: 21' 5" desde CS-12 hacia M-3.
place_without_unit = { $value } no tiene unidad.
    .remedy = Escriba { $number } ft o { $number } m.
place_fitting_unknown = El trabajo no tiene el accesorio { $value }.
    .remedy = Dé el contact_id de un accesorio de la línea.
place_fitting_unknown_like = El trabajo no tiene el accesorio { $value }.
    .remedy = Dé el contact_id de un accesorio de la línea, como { JOIN($like, by: ", ") }.
place_beyond_line = { LENGTH($at_m) } no está en la línea, que mide { LENGTH($route_m) }.
    .remedy = Compruebe dónde empezó la cinta y hacia qué accesorio iba.

stop_place_missing = Falta el lugar del punto de escucha.
    .remedy = Dé at: una longitud a lo largo de la línea o desde un accesorio; o su posición.
stop_far_from_line = La posición está a { LENGTH($away_m) } de { $line }.
    .remedy = Compruebe la posición, su SRC y la línea.
stop_position_without_crs = { $value } no es un SRC.
    .remedy = Dé su código, como EPSG:4326.
stop_toward_start = Ningún accesorio de la línea está hacia ese lado.
    .remedy = Dé la longitud a lo largo de la línea desde su inicio.
time_in_future = La hora está en el futuro: { DAY($time) }.
    .remedy = Compruebe la fecha y la zona horaria.
stop_into_sheet = Solo se pueden añadir puntos de escucha a un GeoPackage; las hojas y los archivos CSV los cambia usted.
    .remedy = Escríbalo en la hoja Stops, o en una fila del archivo de las lecturas.
stop_added = El punto de escucha { $stop } se añadió a { $line }: nivel { FIGURES($level, digits: 6) }{ $unit ->
    [db] {" "}dB
    [scale] {" "}en su escala
   *[unknown] {""}
}{ $where ->
    [at] , a { LENGTH($at_m) } a lo largo de la tubería, que mide { LENGTH($route_m) }
   *[unknown] {""}
}.
stop_not_used = No se usa: { $why }
stop_taken = Tomado del punto { $from }: { JOIN($taken, by: ", ") }.
taken_sensor = sensor { TERM($value, kind: "sensor") }
taken_sound_unit = nivel en { $value ->
    [db] dB
   *[scale] unidades de su escala
}
taken_gain_db = ganancia { FIGURES($value) } dB
band_low = baja
band_high = alta
taken_band = banda { TERM($value, kind: "band") }
taken_surface = superficie { TERM($value, kind: "surface") }
taken_position_sd_m = error de la posición { LENGTH($value) }
taken_walk_id = recorrido { $value }
taken_chainage_from = medido desde { $value }
taken_chainage_toward = medido hacia { $value }
stop_begins_walk = Empieza el recorrido { $walk }.
