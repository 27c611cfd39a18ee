# Frases sobre una línea en mapa, informe, libro y panel, y las palabras del proyecto de QGIS.

## Lugar y error de la marca

mark_named = marca { $rank }
position_mark = Marca a { JOIN($at, by: " y ") } del inicio
position_marks = Marcas a { JOIN($at, by: " y ") } del inicio
position_named = { $mark } a { JOIN($at, by: " y ") } del inicio
position_likeliest = { TERM($status, kind: "status") }; lo más probable a { JOIN($at, by: " y ") } del inicio
spot_mark = la marca
spot_mark_of = la marca { $rank }
spot_likeliest = la posición más probable
spot_likeliest_of = la posición más probable { $rank }
error_along = { PERCENT($probability, at: "start") } de que haya una fuga a menos de { LENGTH($along_m, round: "up") } de { $spot } a lo largo de la tubería
error_across = { $along }; la tubería está a menos de { LENGTH($across_m, round: "up") } a lo ancho (95 %)
error_not_placed = { $along }; no se sabe por dónde va la tubería en el terreno
taped_from = { LENGTH($by_m) } desde { $fitting }
taped_toward = { LENGTH($by_m) } desde { $fitting } hacia { $toward }

## Probabilidades de una fuga

odds_zone = { PERCENT($probability, at: "start") } de que haya una fuga en estos { LENGTH($length_m) } (de { LENGTH($from_m) } a { LENGTH($to_m) })
odds_within = { PERCENT($probability, at: "start") } de que haya una fuga en estos { LENGTH($length_m, round: "up") }
odds_rest = { PERCENT($probability, at: "start") } de que haya una fuga en otros { $count } tramos
odds_foot = { PERCENT($probability, at: "start") } de que haya una fuga a menos de { FOOT() } de { $spot }
odds_line = { PERCENT($probability, at: "start") } de que haya una fuga en esta línea

## Otro lugar para el hoyo

other_place = Menos estorbos: un hoyo { LENGTH($moved_m) } más { $way ->
    [further] lejos
   *[nearer] cerca
} del inicio, a { LENGTH($at_m) }: { $gain }. { PERCENT($there, at: "start") } de que la fuga esté en él en vez de { PERCENT($here) }.
fewer_tolerance_zones = en { $zones } { $zones ->
    [one] zona
   *[other] zonas
} de tolerancia en vez de { $instead_of }
further_from_tolerance_zones = { LENGTH($further_m, round: "down") } más lejos de la zona de tolerancia más próxima

## Lo que se dice de una excavación sin motivo anotado; nada la autoriza

dig_text_no_hold = Ningún motivo de detención anotado
dig_text_no_dig = No se propone excavar
dig_text_not_checked = No se comprobaron los servicios: no se conocen ni ellos ni las respuestas del centro de llamada única
dig_text_not_located = La fuga no está localizada en esta línea; acótela primero
dig_text_no_reason = La excavación está detenida; no se anotó el motivo

## Grupos, temas y marcadores del proyecto

project_title = Marcas de fugas de { $job }
project_group_holds = Qué detiene la excavación
project_group_marks = Marcas
project_group_zones = Zonas
project_group_readings = Lecturas
project_group_pipes = Tuberías y terreno
project_group_rest = Indicios y registros
project_theme_dig = Antes de excavar
project_theme_readings = Lecturas
project_bookmarks = Excavaciones por orden, las detenidas al final
project_held = detenida
project_readings_of_job = Lecturas como se anotaron

## Rótulos, formularios y textos del mapa

project_no_mark = todavía sin marca
project_from = desde
project_page_card = Antes de que nadie excave
project_page_columns = Todas las columnas
project_held_by = Qué detiene la excavación
project_message = Lugar
project_next_action = Después
project_cautions = Precauciones
project_evidence = Indicios
project_yes = sí
project_no = no

## Hoja de excavación

project_sheet = Hoja de excavación
project_unmarked = Todavía sin marca, no es un lugar para excavar
project_of_mark = , marca { $rank }
project_caution_more = Obtenga el ticket del centro de llamada única y la respuesta de cada servicio, cumpla la ley local, y que decida en el terreno quien tiene licencia. Excave a mano cerca de una marca.
project_north = norte
project_no_map = La línea no está situada en el terreno, así que no hay mapa: el lugar es solo una distancia medida con cinta.
project_more = y { $count } más en la capa { $layer }
project_footer = Trabajo { $job }, { $run }, línea { $line }, página { $page } de { $pages }.

## Ejecución y hora, en todo lo que leen las personas

run_of = ejecución { $run }
run_written = ejecución { $run }, escrita { DAY($written) }

## Leyendas de las capas de un resultado

legend_mark = Marca
legend_likeliest_place = Lo más probable: aún sin marca
legend_zone_first = La más probable
legend_zone = Orden { $rank }
legend_zones_from = Orden { $rank } y siguientes
legend_held = Detenida
legend_position_unknown = { TERM($kind, kind: "utility") }, posición desconocida
legend_levels = { FIGURES($low_db, digits: 6) } a { FIGURES($high_db, digits: 6) } dB
legend_not_used = No usada
legend_density_from = desde { FIGURES($per_m) } por m
legend_density_under = menos de { FIGURES($per_m) } por m
legend_share_from = desde { PERCENT($probability) }
legend_share_under = menos de { PERCENT($probability) }
legend_next_readings = Dónde escuchar después
legend_air_tests = Pruebas con aire
legend_contact_ranking = Accesorios por ruido
legend_learned_cases = Excavaciones comparadas con marcas
legend_ties = Medidas a la marca
legend_locate_requests = Línea blanca
legend_dig_alternatives = Otro lugar para el hoyo
legend_survey_bracket = Tramos por recorrer

## Lista de líneas en el orden de las excavaciones

list_rank = Orden
list_line = Línea
list_status = Estado
list_mark = Marca
list_odds = A menos de { FOOT() }
list_water = { $units ->
    [us] Detiene, gal/día
   *[other] Detiene, l/día
}
list_holds = Detenciones
list_held = detenida { $rank }
list_from_fitting = { LENGTH($by_m) } desde { $fitting }
list_from_start = { LENGTH($by_m) } desde el inicio
list_assumed = pérdida supuesta
list_median = pérdida mediana
list_about = Primero van las excavaciones sin motivo de detención anotado, según el agua que se espera que detenga cada una; luego las detenidas, según el agua que permitiría liberarlas; luego las demás líneas, por prioridad. Una excavación detenida no detiene agua antes de que se resuelva lo que la detiene.
list_loss_from = «{ TERM("median", kind: "list") }»: sin prueba de medidor; es la mediana de las pérdidas medidas del trabajo. «{ TERM("assumed", kind: "list") }»: sin prueba de medidor y con pocas pérdidas en el trabajo.
list_none_held = Ninguna línea localizada está detenida.

## Recorrido de excavación

round_caution = Que no conste un impedimento no autoriza a excavar: lo que no está registrado no está en los datos.
round_to_clear = Antes de cada excavación: el ticket del centro de llamada única con la respuesta de cada propietario, la ley local y las precauciones de la excavación. Personal con licencia decide en el terreno; excave a mano cerca de la marca.
round_held = Detenidas, en ningún recorrido antes de que se resuelva lo que las detiene:
round_way = { $by ->
    [streets] { $leg } por las calles, { $driven } hasta aquí
    [straight] { $leg } en línea recta, { $driven } hasta aquí
   *[other] Comience aquí
}
round_near = Servicios que constan cerca de la excavación: { $utilities }. Puede haber otros que no constan.
round_cautions = Las precauciones están en round.csv.
round_held_more = { $written ->
    [no] ... y { $more } más; --out CARPETA las escribe todas.
   *[other] ... y { $more } más, todas en round_held.csv.
}
round_not_written = No se escribió ningún archivo; --out CARPETA escribe round.csv, round_held.csv y round.gpkg.
round_fewer = { $stops ->
    [0] Ninguna excavación está sin impedimento registrado, así que no hay recorrido; { $held } líneas localizadas están detenidas.
   *[other] Solo { $stops } de { $top } lugares: ninguna otra línea localizada está sin impedimento registrado. { $held } están detenidas.
}
round_no_start = El recorrido comienza en { $line }, la primera excavación por orden; indique el depósito con --from X Y.
round_no_streets = Los tramos son líneas rectas; indique las calles con --streets.
round_straight = { $legs ->
    [one] 1 tramo es una línea recta, porque las calles dadas no llevan allí: hasta { $lines }.
   *[other] { $legs } tramos son líneas rectas, porque las calles dadas no llevan allí: hasta { $lines }.
}
round_far = { $stops ->
    [one] 1 marca está
   *[other] { $stops } marcas están
} a más de { LENGTH($far_m) } de la calle dada más cercana: pueden faltar calles.
round_streets_assumed = No se consideran sentidos únicos, giros ni tráfico.

## Cambios desde el resultado que una ejecución reemplazó

changes_since = Desde la ejecución { $run }: { $some }. Las filas están en changes.csv.
changes_none = Desde la ejecución { $run } no cambió ninguna línea, marca ni impedimento.
change_line_new = líneas nuevas
change_line_gone = líneas que ya no están
change_status = líneas con otro estado
change_dig_status = excavaciones con otro estado
change_mark_new = marcas nuevas
change_mark_gone = marcas que ya no están
change_mark_moved = marcas movidas más de { FOOT() }
change_hold_new = impedimentos nuevos
change_hold_cleared = impedimentos que ya no constan

## Solicitudes de localización

request_asks = Solicitud de localizar y marcar los servicios antes de una excavación. No autoriza nada: espere la respuesta de cada propietario, y pregunte también a los propietarios privados.
request_white_line = Línea blanca { $name }
request_mark = Marca { $name }

## Textos de summary.csv

summary_mark = marca { $rank } a { LENGTH($chainage_m) } ({ $place })
summary_no_mark = no hay ninguna marca donde excavar
summary_not_checked = no se comprobaron los servicios
