# Encabezados y textos de las hojas de papel. Un archivo tecleado puede tener cualquiera de ellos.

header_line_id = línea
header_address = dirección
header_date = fecha
header_crew = cuadrilla
header_walk = recorrido
header_sensor = sensor
header_gain_db = ganancia dB
header_sound_unit = unidad
header_surface = superficie
header_chainage_from = desde
header_chainage_toward = hacia
header_tape_unit = cinta en
header_stop = punto
header_tape = cinta
header_sound_level = nivel
header_air = aire
header_air_kpa = aire kPa
header_air_psi = aire psi
header_remark = nota
header_contact_id = accesorio
header_kind = tipo
header_tape_from_previous = cinta desde el anterior
start_of_tape = inicio

## Códigos

surface_concrete = concreto
surface_asphalt = asfalto
surface_tile = baldosa
surface_paver = adoquín
surface_gravel = grava
surface_soil = tierra
surface_grass = césped
surface_carpet = alfombra
surface_unknown = desconocida
sensor_contact_probe = varilla
sensor_magnet = imán
sensor_ground_plate = placa
sensor_ground_spike = punta
air_is_off = sin
air_is_on = con
sound_unit_db = dB
sound_unit_scale = escala
tape_unit_ft = pies
tape_unit_m = m

## Hojas

sheet_fittings = Accesorios de una línea
sheet_walk = Un recorrido: puntos a lo largo de una línea
sheet_last = El último tramo: un punto cada { $step }
sheet_air = Prueba con aire: cada punto sin aire, luego con aire
sheet_meter = Prueba del medidor
sheet_dig = Excavación y reparación
sheet_page = página { $page } de { $pages }
sheet_caution = Nada de lo anotado aquí autoriza la excavación.
sheet_caution_more = Obtenga el ticket y la respuesta de cada servicio, cumpla la ley local, y que decida en el terreno quien tiene licencia.
sheet_example_tape = Cinta tal como se lee: { $example }.
sheet_how_fittings = Una fila por accesorio, en el orden de la tubería. La primera cinta es 0; cada otra va desde el accesorio anterior.
sheet_how_walk = Una fila por punto. Una casilla de arriba vale para toda la hoja. Anote la superficie donde cambia. Otro sensor, otra ganancia u otro origen de la cinta es otro recorrido, en otra hoja.
sheet_how_last = El mismo recorrido, con el mismo sensor y ganancia que la hoja anterior. Anote cada cinta tal como se lee. Los pasos impresos son solo una guía.
sheet_how_air = En el punto más fuerte, y en dos o tres puntos callados de la misma línea. No mueva el sensor entre sin y con.
sheet_how_meter = Nadie usa agua durante la prueba. Lea cada cifra, también las rojas y la aguja.
sheet_how_dig = Antes de excavar: lo que queda por resolver. En el hoyo: lo que se encontró.
sheet_codes = { $column }: { JOIN($codes, by: " | ") }
sheet_unit_of_level = { $column }: marque escala si el visor tiene barras, aguja o de 0 a 100. Marque dB solo si el visor dice dB.
sheet_test = prueba { $number }
sheet_utility = servicio, propietario
sheet_answer = respuesta del propietario
sheet_seen = marca vista en el suelo
sheet_exposed = descubierto a mano, profundidad
sheet_ticket = número del ticket
sheet_ticket_from = ticket válido desde
sheet_ticket_until = ticket válido hasta
sheet_competent = persona competente (nombre, firma)
sheet_locator = localizador de servicios (nombre, firma)
sheet_mark_by = marca puesta por, fecha, hora
sheet_sketch = Croquis: el hoyo, la fuga, y cintas a dos puntos fijos
sheet_found = encontrado
sheet_found_codes = fuga | seco | sin llegar a la tubería
sheet_from_mark = de la marca a la fuga, hacia
sheet_pipe_from = tubería vista desde
sheet_pipe_to = tubería vista hasta
sheet_depth = profundidad a la tubería
sheet_cause = causa
sheet_repaired = reparado
sheet_yes_no = sí | no
sheet_time = fecha, hora
sheet_meter_name = medidor
sheet_volume_unit = unidad del contador
sheet_volume_units = L | m³ | gal | ft³
sheet_start_time = inicio: fecha, hora
sheet_start_reading = inicio: contador
sheet_end_time = fin: fecha, hora
sheet_end_reading = fin: contador
sheet_water_used = se usó agua
sheet_house_valve = válvula de la casa
sheet_open_shut = abierta | cerrada
sheet_resolution = paso menor del contador

## Formularios del proyecto de campo, para una cuadrilla que lee pies

form_in_metres = METROS (3 ft = { $value })
form_in_millimetres = MILÍMETROS (3/4 in = { $value })
form_in_kilopascals = KILOPASCALES (60 psi = { $value })
form_is_it_feet = { $value } m son 8 ft 2 in. ¿Se tecleó en pies? Divida los pies entre { $factor }.
form_is_it_psi = { $value } kPa son 20 psi. ¿Se tecleó en psi? Multiplique los psi por { $factor }.

## Hojas del libro, y los encabezados que solo ellas tienen

title_routes = Líneas
title_contacts = Accesorios
title_readings = Puntos
title_meter_tests = Pruebas del medidor
title_dig_outcomes = Excavaciones
header_reading_id = punto
header_walk_id = recorrido
header_work_order = orden de trabajo
header_material = material
header_diameter_mm = diámetro
header_depth_m = profundidad
header_pressure_kpa = presión
header_installed_year = año de instalación
header_side = lado del medidor
header_time = hora
header_tap_open = grifo abierto a un hilo
header_start_reading = contador al inicio
header_start_time = inicio
header_end_reading = contador al final
header_end_time = fin
header_volume_unit = unidad del contador
header_water_used = se usó agua
header_house_valve = válvula de la casa
header_found = encontrado
header_exposed_from_m = tubería vista desde
header_exposed_to_m = tubería vista hasta
header_repaired = reparado
header_note = nota
header_meter_tests_contact_id = medidor

## Formularios del proyecto de campo

form_write_name = { $title }: escriba su nombre.
form_no_length = Esto no es una longitud. Escríbala como 38' 6", 38,5 o 11,7 m.
form_other_line = Este accesorio está en otra línea.
form_between = { $title }: al menos { $least } y a lo sumo { $most }.
form_least = { $title }: al menos { $least }.
form_most = { $title }: a lo sumo { $most }.
form_by = según la posición
form_from = desde
form_start = el inicio de la línea
form_feet = pies
form_metres = metros
