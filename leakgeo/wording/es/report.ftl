# Informe, sus dibujos y hojas, y lo que el mapa y el libro comparten con él.


## Portada

report_title = Marcas de fugas, y qué detiene cada excavación
report_document = Informe de fugas
report_lines = Líneas, la más urgente primero
report_by_status = Líneas por estado
report_rests_on = En qué se basa esto
report_meaning = Qué significan las probabilidades
report_none = Ninguna.
report_without_mark = Líneas sin marca
report_parameters = Parámetros
report_line = Línea
report_mark = Marca
report_how_sure = Con qué probabilidad
report_dig = Excavación
report_status = Estado
report_count = Líneas
report_why = Por qué
report_in_force = Parámetro en vigor
report_value = Valor
report_used_by = Lo usa
report_number = N.º
report_no_reason = sin motivo anotado
report_more_on_page = { $more } más en su página
report_some_lines = En este informe solo están las { $shown } líneas más urgentes de { $lines } con marca o zona; otras { $left }, y { $without } líneas sin ellas, están en summary.csv y result.gpkg.
report_font_lacks = Los caracteres que la letra de este informe no tiene se imprimen como { $sign }; véalos en el mapa.
report_page = página { $page }
report_meters_tested = Se probaron los medidores de { $lines } líneas: { $shown } muestran pérdida{ $shown ->
    [0] {""}
   *[other] , en total { LOSS($loss) }
}{ $priced ->
    [yes] , { DECIMALS($cost) }{ $currency } al año
   *[no] {""}
}.
report_not_calibrated = No se dio ninguna calibración con excavaciones: las probabilidades son las del propio modelo.
report_calibrated = Las probabilidades de { $lines } líneas llevan una calibración con excavaciones anteriores (potencia { DECIMALS($power, digits: 2) }).
report_ground_given = Cuánto se dispersan las lecturas en este terreno se toma de un trabajo anterior.
report_ground_assumed = Cuánto se dispersan las lecturas en este terreno se supone: { $lines } líneas enseñan poco de ello, y { $enough } empezarían a hacerlo.
report_ground_learned = Cuánto se dispersan las lecturas en este terreno se aprendió de { $lines } líneas de este trabajo.
report_all_readings = { $readings } lecturas
report_readings = { $readings } lecturas: { $used } usadas, { $unused } no usadas (cada una dice por qué)

## Advertencias de todas las hojas

report_caution = Nada de lo anotado aquí autoriza la excavación.
report_caution_more = Obtenga el ticket de llamada única y la respuesta de cada servicio, cumpla la ley local, y que decidan sobre el terreno personas habilitadas. Excave a mano cerca de una marca.
report_odds_meaning = Las probabilidades se calculan de las lecturas y sus errores, para el sonido de una sola fuga en una tubería trazada. Cada una es la de que haya una fuga en el lugar nombrado: «90 %» significa que de cien lugares así unos noventa tienen una fuga, y diez no.

## De qué se hizo un resultado

made_job = Trabajo
made_not_named = sin nombre
made_readings = Lecturas tomadas
made_times = de { DAY($first) } a { DAY($last) } UTC
made_computed = Calculado en
made_delivered = Entregado en
made_by = Hecho por
made_version = leakgeo { $version }, { $run }

## Datos de una línea

fact_address = Dirección
fact_work_order = Orden de trabajo
fact_taped = Con cinta
fact_length = Longitud
fact_material = Material
fact_diameter = Diámetro
fact_wall = Pared
fact_cover = Recubrimiento
fact_pressure = Presión
fact_loss = Pérdida
fact_dig_depth = Profundidad de la excavación
fact_depth_from = Profundidad según
fact_rule = Regla de tolerancia
fact_meter = Medidor
fact_evidence = Indicios
fact_before = Antes de escuchar
fact_likelier_by = Más probable antes de escuchar por
fact_calibration = Calibración
fact_improve = Maneras de mejorar
fact_air_mark = Prueba de aire cerca de la marca
fact_air_control = Prueba de aire en el punto de control
fact_air = Prueba de aire
fact_order = Orden de trabajo { $order }
fact_cost = { $message } A este ritmo cuesta { DECIMALS($cost) } { $currency } al año.
fact_prior = Algunos lugares eran más probables desde el principio, por { $prior }.
fact_power = Las zonas y las probabilidades se hicieron más { $way ->
    [narrowed] estrechas
   *[widened] amplias
} por lo que mostraron excavaciones anteriores (potencia { DECIMALS($power, digits: 2) }).
depth_from_cover_on_record = recubrimiento anotado
depth_from_ground_less_pipe_z = terreno menos la Z de la tubería
material_copper = cobre
material_steel = acero
material_galvanized_steel = acero galvanizado
material_ductile_iron = fundición dúctil
material_cast_iron = fundición gris
material_lead = plomo
material_pvc = PVC
material_pe = PE
material_pex = PEX
material_asbestos_cement = asbesto-cemento
material_concrete = concreto
material_unknown = desconocido

## Plano, perfil y croquis

report_plan_key = Cruz: la marca (anillo solo: aún sin marca); a trazos alrededor: sus errores a lo largo y a lo ancho (95 % cada uno, si hay fuga). Rosa sombreado: zonas de búsqueda. Blanco rayado: excavación propuesta; blanco a trazos: línea blanca; punteado: la tierra extraída, no más cerca ({ $spoil }). Rayado de color: servicio en conflicto; punteado, letra y ?: de posición desconocida. Puntos: lecturas, las fuertes en claro, las no usadas en blanco. Anillos con número: dónde escuchar después.
report_pipe_key = A lo largo de la tubería, a escala, según la cinta: la línea no está situada en el terreno, así que no hay plano. Cruz: la marca (anillo solo: aún sin marca). Rosa sombreado: zonas de búsqueda. Puntos: paradas, las fuertes en claro, las no usadas en blanco. Las distancias son desde el inicio de la línea.
report_ties_key = Referencias de la marca, direcciones verdaderas, distancias sin escala. Grueso: la tubería en la marca.
report_start = inicio
report_end = final
report_to_start = hacia el inicio
report_true_north = N ver.
report_drawn_mark = marca
report_likeliest = lo más probable
report_level_axis = nivel del sonido, dB
report_density_axis = densidad de la fuga, si la hay
report_distance_axis = distancia desde el inicio, { $unit }

## Página de una línea, y hoja de excavación

report_next = Dónde escuchar después
report_from_start = Desde el inicio
report_how_to_tape = Cómo medirlo con cinta, y por qué aquí
report_no_dig_yet = Todavía no se excava: { $line }
report_sheet = Hoja de excavación: { $line }
report_sheet_request = Hoja de excavación: { $line }, solicitud de localización
report_depth = Profundidad de la excavación { LENGTH($depth_m, round: "up") }.
report_conflict = Servicio en conflicto
report_clearance = Separación
report_how_close = Cómo de cerca
report_answer = Respuesta
report_to_do = Por hacer
report_no_answer = sin respuesta
report_listen_again = Antes de excavar, escuche una vez más en { JOIN($places) }.
report_what_holds = Qué detiene esta excavación
report_cautions = Precauciones
report_request = Solicitud de localización: { $asked }
report_request_order = orden de trabajo { $order }
report_white_line = Línea blanca
report_latlon = Latitud, longitud (WGS 84)
report_tape_from = Mida desde
report_distance = Distancia
report_direction = Dirección
report_as_taped = Medido
report_ticket = Número del ticket de excavación
report_ticket_good = Ticket vigente desde / hasta
report_set_out = Marca replanteada por (nombre, fecha, hora)
report_locator = Localizador de servicios (nombre, firma)
report_date_time = Fecha, hora
report_exposed = Servicios vistos y descubiertos
report_competent = Persona competente (nombre, firma)
report_found = Fuga hallada en / no hallada

## Lugares, referencias y excavación

place_latlon = Latitud, longitud
place_plane = Este, norte ({ $crs })
place_corner = Esquina { $number }
place_mark = Marca
tie_buried = { $point } (trazado, no visible)
tie_bearing = { $wind } ({ $degrees } grados verdaderos)
tie_text = { $far } desde { $point }, hacia { $way }
wind_n = N
wind_ne = NE
wind_e = E
wind_se = SE
wind_s = S
wind_sw = SO
wind_w = O
wind_nw = NO
hole_size = { LENGTH($length_m, round: "up") } por { LENGTH($width_m, round: "up") }, { $known ->
    [yes] { LENGTH($depth_m, round: "up") } de profundidad
   *[no] profundidad desconocida
}
datum_note = Aquí la latitud y la longitud { $known ->
    [yes] tienen un error de unos { $accuracy }
   *[no] tienen un error desconocido
}, a falta de una vía mejor del datum del trabajo a WGS 84. Replantee la marca con sus distancias de referencia.

## Textos solo del mapa

shown_span = de { LENGTH($from_m) } a { LENGTH($to_m) }
shown_no_level = sin nivel
shown_not_used = no usado: { $why }
shown_air_mark = cerca de la marca
shown_air_control = en un punto de control
shown_air_place = en un lugar
shown_air_confirmed = la fuga suena aquí
shown_air_not_this = no es esta fuga la que suena aquí
shown_air_inconclusive = sin decidir
shown_loses = Medidor: pierde { LOSS($loss) }
shown_zone = { PERCENT($share) } de que haya una fuga en ella
tally_lines = { $lines ->
    [one] 1 línea
   *[other] { $lines } líneas
}
tally_held = ({ $held } { $held ->
    [one] detenida
   *[other] detenidas
})

## Palabras del guion del mapa; él rellena los números entre llaves

map_a_reading = lectura
map_no_level = sin nivel
map_not_used = no usada
map_no_reason = sin motivo anotado
map_fix = Posición como se anotó
map_listen_at = escuchar después
map_walk = recorrer
map_no_such_line = La línea de este enlace no está en el mapa.
map_page_title = mapa de leakgeo
map_this_line = Esta línea
map_walk_as = Recorrer con el número
map_if_leaks = si estos tubos tienen fuga
map_zone = Zona
map_proposed = Excavación propuesta
map_not_proposed = Aún sin localizar: no se propone excavar
map_white_line = Línea blanca: el área para la que pedir marcas
map_by_loudness = puesto entre los accesorios por ruido
map_air_test = Prueba de aire
map_not_drawn = servicios de aquí no se dibujan: acérquese
map_reason = motivo
map_reasons = motivos
map_show_more = líneas más se pueden mostrar
map_of = de
map_lines = líneas
map_first_lines = En este mapa están las primeras líneas por prioridad
map_in_result = más están en result.gpkg
map_size = Esta página, MB
map_photo = Foto
map_tiles = Mosaicos de fondo
map_asks_host = Mientras este mapa está abierto pide el fondo a este servidor, y así le dice dónde mira usted
map_profile_of = Perfil: nivel del sonido en decibelios y densidad de la fuga según la distancia desde el inicio
map_unreadable = No se pudo leer este mapa
map_aria_side = Líneas y qué detiene la excavación
map_aria_lines = Líneas
map_aria_status = Mostrar líneas de un estado
map_aria_map = Mapa; la lista de al lado dice lo mismo en palabras

## Libro de cálculo

book_lines = Líneas
book_title = Marcas, y qué detiene cada excavación
book_line = Línea
book_address = Dirección
book_status = Estado
book_holds = Qué detiene la excavación
book_mark = La marca, desde un accesorio
book_from_start = Desde el inicio
book_how_sure = Con qué probabilidad
book_next = Después
book_all_holds = Todos los motivos
book_cautions = Precauciones
book_evidence = Indicios
book_stop = Parada
book_as_taped = Según la cinta
book_from_start_m = Desde el inicio (m)
book_level = Nivel comparable (dB)
book_used = Usada
book_why_not = Por qué no
book_walk = Recorrido
book_surface = Superficie
book_time = Hora
book_yes = sí
book_no = no
book_from = desde
book_some = { $lines } líneas: aquí están las primeras { $most } por prioridad, y las primeras { $sheets } tienen hoja.
