# Faltas que las revisiones hallan en las capas de un trabajo; .remedy es qué hacer.

left_out = Se omite.
taken_as = Se toma como { $code }.
more_names = { $more ->
    [0] {""}
   *[other] {" "}y { $more } más
}

## Columnas y valores

reader_note = El programa de lectura avisa: { $note }.
    .remedy = Mire la capa en un SIG.
cut_name = { $was } como { $column }
names_cut_off = Los nombres de columna que el formato cortó se reconocen por su comienzo: { JOIN($columns) }.
    .remedy = No haga nada, salvo que uno sea otra columna o esté en otra unidad: entonces dígalo en una correspondencia.
columns_not_used = { $columns ->
    [one] 1 columna no se usa, pues el contrato de datos no la tiene
   *[other] { $columns } columnas no se usan, pues el contrato de datos no las tiene
}: { JOIN($names) }{ more_names }.
    .remedy = No haga nada, salvo que sea una columna del contrato con otro nombre: entonces cámbiele el nombre.
column_of_older_files = La columna { $was } de archivos más antiguos se lee como { $column }, con verdadero y falso intercambiados.
    .remedy = Llámela { $column }, e intercambie true y false.
box_not_ticked = { $column } es falso, como en una casilla que nadie marcó; el valor se omite.
    .remedy = { $column ->
    [private] Ponga no donde se sabe que su propietario es miembro del centro de llamada única, yes donde es privado.
    [found] Ponga dry donde se vio la tubería y no perdía, pipe_not_reached donde la excavación no llegó a ella.
   *[other] Ponga el código que corresponde.
}
name_missing = Falta { $column }; la fila se nombra por su número.
    .remedy = Rellene { $column }.
text_too_long = { $column } tiene más de { $longest } caracteres: { $value }.
    .remedy = Acórtelo.
not_number = { $column } no es un número finito: { $value }.
    .remedy = Dé dígitos con punto, sin unidad; declare las comas decimales en una correspondencia.
not_integer = { $column } no es un número entero: { $value }.
    .remedy = Dé solo dígitos.
not_boolean = { $column } no es verdadero ni falso: { $value }.
    .remedy = Ponga true o false.
not_datetime = { $column } no es una hora: { $value }.
    .remedy = Póngala como 2025-03-31T14:05:00Z, o con su diferencia respecto a UTC.
not_date = { $column } no es una fecha: { $value }.
    .remedy = Póngala como 2025-03-31.
not_string = { $column } no es texto: { $value }.
    .remedy = Ponga texto.
time_zone_missing = { $column } no tiene huso horario; se toma como UTC.
    .remedy = No haga nada si la rellenaron los formularios de un proyecto de campo, que escriben UTC. Si no, dé las horas con su huso, o en UTC.
unknown_code = { $column } no es uno de los códigos conocidos: { $value }.
    .remedy = Use uno de: { JOIN($codes) }.
number_out_of_range = { $column } está fuera de rango: { $value }.
    .remedy = Ponga { $minimum ->
    [unknown] como mucho { FIGURES($maximum, digits: 9) }
   *[other] { $maximum ->
        [unknown] al menos { FIGURES($minimum, digits: 9) }
       *[other] de { FIGURES($minimum, digits: 9) } a { FIGURES($maximum, digits: 9) }
    }
}{ $unit ->
    [unknown] {""}
   *[other] {" "}{ $unit }
}, o déjelo vacío si no se sabe.
day_out_of_range = { $column } está fuera de rango: { $value }.
    .remedy = Ponga un día de { $first } a { $last }, o déjelo vacío si no se sabe.

## Filas

identifier_shared = Varias filas tienen este { $column }, y difieren.
    .remedy = Dé a cada una el suyo, o quite las que estén mal.
drawn_and_typed = Tiene una fila sin geometría y otra dibujada: se toman como una sola línea, con la forma dibujada.
level_negative = sound_level es negativo en una escala lineal: { $value }.
    .remedy = Ponga el número que mostraba la pantalla, o ponga db en sound_unit.
level_not_decibels = sound_level no puede estar en decibelios: { $value }.
    .remedy = Déjelo vacío donde no se midió nada, o ponga scale en sound_unit.
walk_not_decibels = Otros niveles de su recorrido no pueden estar en decibelios, aunque este sí: todo el recorrido es probablemente lineal.
    .remedy = Ponga scale en sound_unit en todo el recorrido.
decibels_like_display = { $readings } niveles en decibelios, en { $lines ->
    [one] 1 línea
   *[other] { $lines } líneas
}, son probablemente valores de una pantalla lineal, como de 0 a 100.
    .remedy = Si lo son, ponga scale en sound_unit.
end_not_after_start = end_time no es posterior a start_time.
    .remedy = Corrija las horas.
meter_reading_falls = end_reading es menor que start_reading: { $value }.
    .remedy = Corrija las lecturas, o sume una vuelta entera del contador si pasó por cero.
meter_off_line = El medidor { $meter } está a { ABOUT($off_m) } de la línea de esta prueba: la prueba cuenta, sin que se sepa el lugar del medidor.
    .remedy = Corrija contact_id, line_id, o la posición del medidor.
before_repair = Es de antes de que se reparara la fuga de esta línea, el { DAY($day) }, y ya no describe la línea.
    .remedy = Escuche de nuevo, o lea otra vez el medidor, para ver si hay otra fuga.
repair_time_missing = No consta la hora de la reparación, así que no se puede apartar lo que se midió antes.
    .remedy = Rellene time.
dig_off_line = La excavación está a { ABOUT($off_m) } de su línea, y no es evidencia sobre ella.
    .remedy = Corrija line_id o la posición.
dig_elsewhere = La excavación está a { LENGTH($point_m) } por su línea, y su registro dice { LENGTH($at_m) }, que es lo que se usa.
    .remedy = Corrija lo que esté mal. Las distancias van en metros desde el primer vértice del trazado.
dig_chainage_in_feet = La excavación está a { LENGTH($point_m) } por su línea, y su registro dice { DECIMALS($number, digits: 2) } m, que son { LENGTH($at_m) } y es lo que se usa. En pies coincidiría con la excavación.
    .remedy = Escríbalo en metros, o corrija la posición de la excavación.
exposed_beyond_route = exposed_to_m, { ABOUT($to_m) }, está más allá del final de su línea, a { ABOUT($route_m) }; se usa la posición de la excavación.
    .remedy = Mida desde el primer vértice del trazado, en metros, o invierta el trazado en el SIG.
leak_beyond_route = leak_chainage_m, { ABOUT($to_m) }, está más allá del final de su línea, a { ABOUT($route_m) }; se usa la posición de la excavación.
    .remedy = Mida desde el primer vértice del trazado, en metros, o invierta el trazado en el SIG.
leak_outside_exposed = leak_chainage_m está fuera de la tubería que se vio, de exposed_from_m a exposed_to_m: { $value }.
    .remedy = Corrija uno de ellos.
dig_without_place = No tiene posición ni distancia a lo largo de la línea: no muestra nada de dónde estaba la fuga.
    .remedy = Rellene leak_chainage_m, o exposed_from_m y exposed_to_m.
superseded = El registro { $by } lo corrige: se conserva, y no se usa.
    .remedy = No haga nada, salvo que { $by } sea incorrecto.
supersedes_in_circle = Se corrige a sí mismo a través de { $value }: no se omite ninguno.
    .remedy = Vacíe supersedes del registro más antiguo.
undated_since_repair = No tiene hora, y la fuga de esta línea se reparó el { DAY($day) }: puede ser de antes, y no se usa.
    .remedy = Rellene time si es de después de la reparación; si no, escuche de nuevo.
depth_implausible = depth_m es { $value }: más hondo de lo que están las líneas de agua, salvo que esté en pies o pulgadas.
    .remedy = Revise su unidad; una correspondencia la pasa a metros.
depths_implausible = La mitad de las profundidades pasan de { FIGURES($median_m, digits: 6) } m, más hondo que la mayoría de las líneas de agua: pueden estar en pies o pulgadas.
    .remedy = Revise la unidad de depth_m; una correspondencia la pasa a metros.
pressures_implausible = La mitad de las presiones son de { FIGURES($median_kpa) } kPa o menos, menos de lo que se mantiene en las redes: pueden estar en psi o bar.
    .remedy = Revise la unidad de pressure_kpa; una correspondencia la pasa a kPa.
diameters_implausible = La mitad de los diámetros son de { FIGURES($median_mm) } mm o menos, menos de lo que tienen las líneas de agua: pueden estar en pulgadas.
    .remedy = Revise la unidad de diameter_mm; una correspondencia la pasa a mm.
times_go_back = Las horas retroceden mientras seq avanza, { $times ->
    [one] una vez
   *[other] { $times } veces
}, en el recorrido { JOIN($walks) }{ more_names }.
    .remedy = Revise seq y time: el orden de un recorrido se toma de seq.

## Copias

walk_named = el recorrido { $walk }
walk_without_name = un recorrido sin nombre
readings_without_walk = las lecturas de { $line } sin recorrido
readings_without_line = las lecturas sin línea ni recorrido
same_as_earlier_reading = Es igual a una lectura anterior salvo en reading_id.
    .remedy = Quite la copia, o corrija lo que difiere.
copied_readings = { $copies ->
    [one] Una lectura de { $walk } es igual a una de { $of } en hora, lugar, nivel y sensor: es una copia, y no se usa.
   *[other] { $copies } lecturas de { $walk } son iguales a las de { $of } en lugar, nivel y sensor, y en la hora donde ambas la tienen: son copias, y no se usan.
}
    .remedy = Quite la copia, o corrija lo que difiere.

## Líneas

line_unknown = Línea desconocida: ningún trazado tiene el line_id { $value }.
    .remedy = Corrija line_id, o añada el trazado.
line_unknown_like = Línea desconocida: ningún trazado tiene el line_id { $line }, aunque uno tiene { $like }.
    .remedy = Corrija line_id, o añada el trazado.
line_rejected = Se rechaza el trazado de su línea, { $value }.
    .remedy = Corrija el trazado.
selected_line_missing = Se seleccionó la línea { $line }, y ningún trazado tiene ese line_id.
    .remedy = Revise su nombre.
lines_by_condition = La condición { $condition } selecciona { $lines ->
    [one] una línea
   *[other] { $lines } líneas
}; del resto del trabajo solo se leyó lo que hay alrededor, con { $others } trazados más.
    .remedy = No haga nada. Los errores de otras líneas se indican al revisar todo el trabajo.
no_selected_line = Ninguna de las líneas seleccionadas está en el trabajo.
    .remedy = Revise sus nombres.
placed_by_chainage = { $placed } de sus { $rows } filas no tienen posición; se sitúan solo por la distancia a lo largo de la línea.
    .remedy = No haga nada si cada cinta empezó donde empieza su trazado, o en chainage_from.
on_another_line = Está en la línea { $on }, a { LENGTH($off_m) } de la línea { $line }, la que nombra su line_id.
    .remedy = Corrija su line_id, o su posición.
on_other_lines = Está en otra línea, a { LENGTH($off_m) } de la que nombra su line_id.
    .remedy = Corrija su line_id, o su posición.
taped_readings_off_route = { $readings } de sus lecturas con cinta tienen posiciones hasta a { ABOUT($off_m) } de su trazado, más de lo que explican sus errores; se sitúan solo por la distancia a lo largo de la línea.
    .remedy = Revise sus posiciones, y su line_id.
walk_at_one_place = { $same } de las { $readings } lecturas de { $walk } tienen una misma posición: no se sabe en qué punto de la línea se tomó cada una.
    .remedy = Dé a cada una su posición, o su chainage_m medido con cinta.

## Formas

route_without_geometry = No tiene geometría, y ninguno de sus accesorios tiene longitud con cinta.
    .remedy = Dibújela, o dé sus accesorios en contacts, cada uno con la longitud medida desde el anterior; quite la fila si no es una línea.
fitting_without_geometry = No tiene geometría, y ninguna lista con cinta lo sitúa.
    .remedy = Dibújelo, o dé la longitud medida desde el accesorio anterior.
reading_without_geometry = No tiene geometría.
    .remedy = Dibújela, o dé su line_id y su chainage_m medido con cinta.
geometry_empty = Su geometría está vacía.
    .remedy = Dibújela, o quite la fila.
reading_geometry_empty = Su geometría está vacía.
    .remedy = Dibújela, o dé su line_id y su chainage_m medido con cinta.
coordinate_not_finite = Una coordenada no es un número finito.
    .remedy = Dibújela de nuevo.
wrong_geometry_type = Su geometría no es { JOIN($allowed, by: " ni ") }, sino { $value }.
    .remedy = Dibújela así, o póngala en la capa que le corresponde.
no_place_in_crs = Sus coordenadas no son un lugar en el SRC de la capa.
    .remedy = Revise el SRC de la capa, y si x e y (longitud y latitud) están intercambiadas.
route_without_length = El trazado no tiene longitud.
    .remedy = Trácelo de nuevo.
route_too_long = El trazado mide { FAR($length_m) }.
    .remedy = Busque un vértice muy lejano, y revise el SRC.
z_in_part = Solo algunos de sus vértices tienen Z; no se usa la Z.
    .remedy = Dé su Z a todos los vértices, o a ninguno.
outline_without_area = Su contorno no encierra ninguna superficie.
    .remedy = Dibújelo de nuevo.
outline_repaired = Su contorno se cruzaba consigo mismo; se arregló.
    .remedy = Revíselo, y dibújelo de nuevo si está mal.
route_turns_back = El trazado vuelve sobre sí mismo, { $times ->
    [1] una vez
   *[other] { DECIMALS($times) } veces
}: un pico, o una parte dibujada dos veces. Las distancias por él son demasiado largas en esa medida.
    .remedy = Quite los vértices que sobran.
route_crosses_itself = El trazado se cruza o se toca a sí mismo: cerca de allí una posición sola no muestra en qué parte está.
    .remedy = Revise el trazado; si está bien, dé allí distancias con cinta.
end_near_route = Uno de sus extremos está a { LENGTH($gap_m) } de { $other }, y no cuenta como unido a él.
    .remedy = Si son una misma tubería, dibuje juntos los extremos.
routes_cross = Hay trazados que se cruzan donde ninguno termina, y no cuentan como unidos ({ $times ->
    [one] una vez
   *[other] { $times } veces
}).
    .remedy = Si uno sale allí del otro, termínelo allí.

## SRC

far_from_routes = Está a { FAR($away_m) } de los trazados.
    .remedy = Revise el SRC de la capa y el de los trazados, y si x e y están intercambiadas.
would_fit_swapped = Estaría sobre ellos si se intercambiaran su x y su y.
would_fit_routes_crs = Estaría sobre ellos si su SRC fuera el de los trazados, { $crs }.
would_fit_routes_crs_swapped = Estaría sobre ellos si su SRC fuera el de los trazados, { $crs }, y se intercambiaran su x y su y.
would_fit_degrees = Estaría sobre ellos si sus coordenadas fueran grados.
would_fit_degrees_swapped = Estaría sobre ellos si sus coordenadas fueran grados, con la latitud primero.
would_fit_feet = Estaría sobre ellos si sus coordenadas fueran pies, no metros.
would_fit_us_survey_feet = Estaría sobre ellos si sus coordenadas fueran pies topográficos de EE. UU., no metros.
would_fit_metres_not_feet = Estaría sobre ellos si sus coordenadas fueran metros, no pies.
would_fit_metres_not_us_survey_feet = Estaría sobre ellos si sus coordenadas fueran metros, no pies topográficos de EE. UU.
would_fit_zone = Estaría sobre ellos si estuviera en { $zone }.
near_pole = Están en la latitud { DECIMALS($latitude_deg, digits: 2) }, longitud { DECIMALS($longitude_deg, digits: 2) }, donde no hay calles.
    .remedy = Revise el SRC de los trazados, su unidad, y si x e y están intercambiadas.
outside_crs_area = Están en la latitud { DECIMALS($latitude_deg, digits: 2) }, longitud { DECIMALS($longitude_deg, digits: 2) }, muy lejos del área de su SRC, { $crs }.
    .remedy = Revise el SRC de los trazados, su unidad, y si x e y están intercambiadas.
other_foot = La mitad de sus mejores posiciones están a { LENGTH($before_m) } o más de sus líneas; estarían a { LENGTH($after_m) } si sus pies fueran { $meant ->
    [international] pies internacionales, no topográficos de EE. UU.
   *[us_survey] pies topográficos de EE. UU., no internacionales.
}
    .remedy = Revise en qué pie están la capa y los trazados.
feet_differ = Tiene la proyección de los trazados, pero otros pies: su SRC, { $crs }, tiene { $foot ->
    [international] pies internacionales
   *[us_survey] pies topográficos de EE. UU.
}, y el de los trazados, { $routes_crs }, { $routes_foot ->
    [international] pies internacionales
   *[us_survey] pies topográficos de EE. UU.
}. Si es un error, sus posiciones están desplazadas { LENGTH($moved_m) }.
    .remedy = Pregunte a quien la hizo en qué pie están sus coordenadas, y ponga ese SRC; no se cambió nada.
datum_guessed = Su datum ({ $datum }) no se puede transformar al de los trazados ({ $routes_datum }) en esta máquina; las posiciones pueden tener errores de decenas de metros.
    .remedy = Transforme la capa al SRC de los trazados en un SIG, o instale los archivos de rejilla de PROJ.
datum_shift_poor = La transformación de { $datum } al { $routes_datum } de los trazados tiene un error de unos { ABOUT($accuracy_m) }.
    .remedy = Transforme la capa al SRC de los trazados en un SIG con la rejilla correcta, si eso importa.
datum_shift_unknown = No se conoce el error de la transformación de { $datum } al { $routes_datum } de los trazados.
    .remedy = Transforme la capa al SRC de los trazados en un SIG con la rejilla correcta, si eso importa.
degrees_in_metre_crs = Sus coordenadas son grados, y su SRC, { $crs }, no lo es.
    .remedy = Ponga el SRC en que se dibujó, como EPSG:4326.
no_route_on_earth = Ningún trazado está en un lugar del SRC de la capa.
    .remedy = Revise el SRC de la capa, y si x e y están intercambiadas.

## Capas

contacts_missing = No se escuchó en ningún accesorio, así que no se dibuja el tramo que señalan.
    .remedy = Añada la capa si se escuchó en los accesorios.
meter_tests_missing = No hay prueba del medidor, así que no se conoce la pérdida de agua.
    .remedy = Añada la tabla si se leyó el medidor antes y después de un tiempo sin uso.
utilities_missing = No se dan otros servicios enterrados. Eso no descarta nada: pueden estar allí de todos modos.
    .remedy = Haga que se localicen y marquen antes de excavar, y añádalos.
surfaces_missing = No se dan las superficies del terreno.
    .remedy = Añada la capa si cambia la cubierta del terreno.
history_missing = No se dan fugas ni reparaciones pasadas.
    .remedy = Añada la capa si hay registros.
dig_outcomes_missing = No se dan resultados de excavaciones.
    .remedy = Añada la capa a medida que se abran excavaciones.
layer_missing = El trabajo no tiene la capa { $layer }; sus capas son: { JOIN($layers) }.
    .remedy = Añádala, cambie el nombre de la capa que la contiene, o nómbrela en una correspondencia.
job_without_layers = El trabajo no tiene la capa { $layer }, ni ninguna otra.
    .remedy = Añádala, o dé una fuente que la tenga.
layer_without_crs = La capa no tiene un SRC que la sitúe en la tierra; sus { $rows } filas no se usan.
    .remedy = Ponga el SRC en que se dibujó.
layer_without_geometry = La capa no tiene geometría; sus { $rows } filas no se usan.
    .remedy = Escríbala con geometría { JOIN($types, by: " o ") }, o nombre en una correspondencia sus columnas de coordenadas, x e y. Una línea que solo se midió con cinta no la necesita: liste sus accesorios en contacts, con tape_from_previous.
no_routes = La capa está vacía: el trabajo no tiene trazados.
    .remedy = Trace las líneas, o liste sus accesorios con las longitudes con cinta entre ellos.
no_readings = La capa está vacía: el trabajo no tiene lecturas.
    .remedy = Añada las lecturas de un recorrido.
no_good_route = No se puede usar ningún trazado.
    .remedy = Corrija primero los trazados.

## Rásteres

not_an_image = no es una imagen
side_file_not_an_image = { $file }, que está al lado, no es una imagen
side_file_names_others = { $file }, que está al lado, remite a otros archivos
ground_refused = No se lee: { $why }.
    .remedy = Guárdelo como un solo archivo GeoTIFF.
ground_not_read = No se puede leer: { $error }.
    .remedy = Guárdelo de nuevo como GeoTIFF.
ground_without_crs = No tiene SRC.
    .remedy = Ponga el SRC en que se hizo.
ground_unit_unknown = No se conoce la unidad de sus alturas, así que no se calcula ningún recubrimiento con él.
    .remedy = Dé un SRC con parte vertical, como EPSG:2263+6360, o la unidad de la banda.
ground_z_unit_unknown = No se conoce la unidad de la Z de los trazados, así que no se calcula ningún recubrimiento con él.
    .remedy = Dé un SRC con parte vertical, como EPSG:2263+6360, o la unidad de la banda.
ground_off_routes = No cubre los trazados.
    .remedy = Revise su SRC y su extensión.
ground_too_fine = Tiene { DECIMALS($columns) } por { DECIMALS($rows) } celdas alrededor de los trazados, más de las que se pueden leer.
    .remedy = Revise su SRC y el tamaño de sus celdas, o hágalo más grueso.
ground_read_from_file = Se leyó de { $file }, SHA-256 { $sha256 }. Se supone que sus alturas y la Z de los trazados tienen el mismo datum.
    .remedy = Revise los dos datum: si difieren, todo recubrimiento calculado con él yerra en esa diferencia.
ground_read_from_table = Se leyó de { $table }. Se supone que sus alturas y la Z de los trazados tienen el mismo datum.
    .remedy = Revise los dos datum: si difieren, todo recubrimiento calculado con él yerra en esa diferencia.
ground_read_coarser = Se leyó con una resolución { DECIMALS($times, digits: 1) } veces más gruesa que la suya.
    .remedy = Recórtelo al área del trabajo para tener todo el detalle.
ground_without_height = No tiene altura donde están los trazados.
    .remedy = Revise su extensión y su valor sin datos.
ground_unlike_routes = Sus alturas menos la Z de los trazados darían un recubrimiento mediano de { ABOUT($cover_m) }: sus datum o unidades difieren, y no se calcula ningún recubrimiento con él.
    .remedy = Lleve ambos al mismo datum vertical y a la misma unidad.
photo_refused = No se pudo leer: { $why }.
    .remedy = Dé un solo archivo GeoTIFF.
photo_not_read = No se pudo leer.
    .remedy = Dé un GeoTIFF que se abra en un SIG.
photo_without_crs = No tiene SRC.
    .remedy = Póngalo, por ejemplo con gdal_edit -a_srs.
photo_off_routes = No llega a los trazados.
    .remedy = Dé una foto del área del trabajo.

## Resultados que se vuelven a leer

result_without_record = No se sabe si sus capas están como las escribió la ejecución: al lado no hay ningún { $record } de una ejecución.
    .remedy = Mantenga junta la carpeta.
result_of_other_run = Sus capas son de la ejecución { $run }, y el { $record } que está al lado es de la ejecución { $written }.
    .remedy = Mantenga juntos los archivos de una ejecución.
layer_changed = La capa { $layer } se cambió después de que la escribiera la ejecución { $run }.
    .remedy = Ejecute de nuevo el trabajo si eso no se quería.
valves_missing = No se dan válvulas.
    .remedy = Añada la capa si se cerraron válvulas en pruebas.
isolation_tests_missing = No hay prueba de aislamiento.
    .remedy = Añada isolation_tests y closed_valves si se cerraron válvulas para acotar la pérdida.
not_length = { $column } no es un número finito: { $value }.
    .remedy = Dé dígitos con punto, o una longitud con su unidad, como 38' 6".
unit_not_of_measure = unit no es una unidad de { $measure }: { $value }.
    .remedy = Use una de: { JOIN($units, by: ", ") }.
after_less_than_before = after es menor que before, en un medidor: { $value }.
    .remedy = Corrija las lecturas, o sume una vuelta entera del contador si pasó por cero.
isolation_not_settled = El valor no se había estabilizado, o settled no consta: esta prueba de aislamiento no muestra nada.
    .remedy = Espere hasta que el valor no cambie, lea de nuevo, y anote settled.
isolation_without_pressure = No había presión antes de cerrar las válvulas: { $value }. Esta prueba de aislamiento no muestra nada.
    .remedy = Corrija before, o repita la prueba en una línea con presión.
isolated_pressure_rises = La presión subió después de cerrar las válvulas, a { $value }: esta prueba de aislamiento no muestra nada.
    .remedy = Corrija before y after si están intercambiados; si no, una válvula deja pasar agua: búsquela, y pruebe de nuevo.
isolated_flow_rises = El caudal subió después de cerrar las válvulas, a { $value }: esta prueba de aislamiento no muestra nada.
    .remedy = Corrija before y after si están intercambiados; si no, busque qué consumía agua, y repita la prueba.
valve_off_line = La válvula está a { LENGTH($off_m) } de { $line }, la línea que nombra su line_id: allí no corta nada.
    .remedy = Corrija su posición o su line_id.
valve_off_network = La válvula está a { LENGTH($off_m) } de la línea más cercana: no corta nada.
    .remedy = Corrija su posición, o añada la línea en que está.
shut_fitting_not_named = No se nombra el accesorio que se cerró: este resultado no muestra nada.
    .remedy = Dé su contact_id.
shut_fitting_off_line = El accesorio que se cerró, { $value }, no está en esta línea: este resultado no muestra nada de ella.
    .remedy = Corrija contact_id o line_id, o la posición del accesorio.
end_not_named = No se nombra el extremo más allá del cual se escuchó, ni un accesorio en un extremo: este resultado no muestra nada.
    .remedy = Ponga start o end en beyond, o dé el contact_id de un accesorio en ese extremo.
reference_unknown = { $column } no se conoce: { JOIN($refers_to, by: " o ") } no tiene { $value }.{ $left_out ->
    [yes] {" "}Se omite.
   *[no] {""}
}
    .remedy = Corrija { $column }, o añada esa fila.
exposed_ends_exchanged = exposed_to_m es menor que exposed_from_m: { $value }.
    .remedy = Intercambie los dos.
tape_without_unit = Su cinta es un número sin unidad: { $value }.
    .remedy = Escriba la unidad al lado, como en 38' 6" o 11.7 m, o rellene tape_unit.
tape_not_a_length = Su cinta no es una longitud: { $value }.
    .remedy = Escríbala como 38' 6" (pulgadas menores de 12), 38.5 ft o 11.7 m.
tape_contradicts_chainage = Su cinta, { $value }, y su chainage_m difieren.
    .remedy = Corrija uno de los dos, u omita chainage_m: la cinta basta.
tape_without_line = No se usa su distancia con cinta: sin line_id, nada muestra por qué línea iba.
    .remedy = Rellene line_id.
tape_without_direction = chainage_toward, { $value }, es donde empezó su cinta: eso no da dirección, y no se usa la distancia con cinta.
    .remedy = Corríjalo, o quítelo y mida con cinta desde el comienzo del trazado.
tape_fitting_unknown = { $column } no nombra ningún accesorio que tenga posición: { $value }. No se usa su distancia con cinta.
    .remedy = Corríjalo, o quítelo y mida con cinta desde el comienzo del trazado.
tape_fitting_off_line = El accesorio que nombra { $column }, { $value }, no está en su línea. No se usa su distancia con cinta.
    .remedy = Corríjalo, o quítelo y mida con cinta desde el comienzo del trazado.

## Listas de accesorios con las longitudes con cinta entre ellos

list_tape_negative = Su cinta desde el accesorio anterior es negativa: { $value }. La lista de su línea no se usa.
    .remedy = Escriba la longitud a lo largo del tubo desde el accesorio anterior, y dé el orden en seq.
list_tape_missing = A la lista de su línea le falta la longitud desde el accesorio anterior, así que no se usa.
    .remedy = Mida con cinta desde el accesorio anterior a lo largo del tubo; si no está en el camino, numere solo los otros en seq.
list_order_missing = Otros accesorios de su línea tienen su orden en seq, y este no. La lista de su línea no se usa.
    .remedy = Numere todos los accesorios de la lista, o ninguno.
list_order_repeated = Dos accesorios de su línea tienen el mismo seq. La lista de su línea no se usa.
    .remedy = Numérelos en el orden en que están a lo largo del tubo.
list_of_one = Está solo en la lista de su línea: un accesorio no da longitud.
    .remedy = Añada el siguiente accesorio con la longitud hasta él.
list_too_long = La lista de su línea mide { FAR($length_m) }, y esta es su longitud mayor. La lista no se usa.
    .remedy = Escriba la longitud como se midió con cinta, y revise su unidad.
list_without_length = Todas las longitudes de la lista de su línea son 0.
    .remedy = Mida con cinta de accesorio a accesorio a lo largo del tubo.
list_starts_with_length = Es el primero de su línea y tiene una longitud desde un accesorio anterior: ¿es la longitud hasta el siguiente? La lista de su línea no se usa.
    .remedy = Escriba cada longitud en el accesorio hasta el que llegó la cinta, y déjela vacía en el primero.
list_not_used = No tiene posición, y la lista de su línea no la pone en ningún lugar.
    .remedy = Corrija la lista, o ponga el accesorio en el plano.
list_beyond_route = La lista con cinta lo pone más allá del final del trazado dibujado, que mide { LENGTH($route_m) }.
    .remedy = Corrija las longitudes o el trazado, o ponga el accesorio en el plano.
list_and_route_differ = Su lista con cinta mide { LENGTH($taped_m) }, y su trazado dibujado { LENGTH($route_m) }; las distancias con cinta se usan a lo largo del trazado.
    .remedy = Mire cuál es correcto: la lista puede empezar en el otro extremo, o el trazado puede estar incompleto.
taped_list_unusable = No tiene geometría, y su lista de accesorios con cinta no se puede usar.
    .remedy = Corrija la lista en contacts, o dibuje la línea.
line_by_tape_alone = No tiene geometría; se calcula a lo largo de su lista con cinta, que mide { LENGTH($length_m) }, y no se pone sobre el terreno: sin mapa, sin coordenadas, y toda excavación en espera.
    .remedy = Dibújela en la fila que ya existe (en QGIS: Edición > Añadir parte), o como fila nueva con el mismo line_id; o dé las posiciones de dos de sus accesorios.
line_assumed_straight = Se supone recta entre { JOIN($ends) }, que tienen posición; el error de su traza se toma como { LENGTH($sd_m) }, el de las posiciones y el de la curva que permite su longitud con cinta.
    .remedy = Dibuje la línea donde tuerce, con el mismo line_id: las distancias con cinta corren entonces a lo largo de ella.
positions_contradict_tape = Dos de sus accesorios están a { LENGTH($apart_m) } por sus posiciones, y a { LENGTH($taped_m) } por la cinta: la línea no se pone sobre el terreno.
    .remedy = Corrija las posiciones o las longitudes.

## Hojas de una cuadrilla sin SIG

sheet_as_layer = { $sheet } como { $layer }
sheets_are_layers = Las hojas se leen como capas: { JOIN($sheets) }.
sheet_filled_down = { $cells ->
    [one] 1 celda vacía se toma
   *[other] { $cells } celdas vacías se toman
} como la de arriba, en la misma línea: { JOIN($columns) }.
    .remedy = No haga nada si se dejaron vacías por ser iguales; si no, rellénelas. La palabra start significa el comienzo de la línea.
sheet_stops_named = { $stops ->
    [one] 1 parada sin nombre propio se nombra
   *[other] { $stops } paradas sin nombre propio se nombran
} por su línea, y por su recorrido o su fila donde eso no basta.
sheet_totals_left_out = Las filas de totales se omiten: { JOIN($rows) }.
    .remedy = No haga nada, salvo que la palabra sea el nombre de una línea o de un accesorio: entonces dele otro nombre.
sheet_words_as_codes = Las palabras se leen como códigos: { JOIN($words) }.
    .remedy = No haga nada si son correctos; si no, escriba el código que corresponde.
sheet_days_without_hour = { $cells ->
    [one] 1 hora es un día sin hora, y se toma
   *[other] { $cells } horas son días sin hora, y cada una se toma
} como su medianoche en UTC: { JOIN($columns) }.
    .remedy = Escriba las horas como texto con su zona, como en 2026-05-03T06:10-04:00. Si las celdas muestran una hora, su formato la oculta: deles formato de texto.
respelled = { $was } como { $now }
sheet_respelled = Los nombres que solo difieren en mayúsculas, espacios o guiones se leen como en su propia hoja: { JOIN($names) }.
    .remedy = No haga nada, salvo que sean dos cosas: entonces dé nombres que difieran más.
sheet_not_degrees = Las longitudes o latitudes que no son números se omiten: { JOIN($values) }.
    .remedy = Dé grados decimales, como -83.0458.

## Resultados leídos de nuevo

result_superseded = Este resultado, de la ejecución { $run }, escrito { $written }, fue sustituido por la ejecución { $by }, escrita { $at }: no se puede excavar según él.
    .remedy = Use el resultado que lo sustituyó, que tampoco autoriza ninguna excavación.
