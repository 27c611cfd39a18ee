# Títulos, leyenda y rótulos del mapa.

map_how_sure = Con qué probabilidad
map_meter_test = Prueba del medidor
map_air_tests = Pruebas con aire
map_place = Lugar
map_verdict = Resultado
map_heard = Se oyó
map_listen_next = Dónde escuchar después
map_do_next = Qué hacer ahora, y qué esperar de ello
map_about_actions = Primero lo mejor para los minutos supuestos. Duda: qué suena, y dónde.
map_what = Qué
map_minutes = Minutos
map_less_doubt = La duda se reduce en
map_ways_to_improve = Maneras de mejorar
map_walk_first = Por dónde caminar primero, según los accesorios
map_if_leak = Si estos tubos tienen fuga
map_fittings = Accesorios, el más ruidoso primero
map_rank = Orden
map_fitting = Accesorio
map_level = Nivel
map_the_line = La línea
map_link = Enlace a esta línea:
map_all_lines = Todas las líneas
map_conflicts = Servicios en conflicto
map_request = Solicitud de localización: línea blanca
map_latitude = Latitud, longitud (WGS 84)
map_by_tape = Volver a hallar la marca con cinta
map_from = Desde
map_distance = Distancia
map_direction = Dirección
map_what_holds = Qué detiene la excavación
map_cautions = Precauciones
map_number = N.º
map_from_start = Desde el inicio
map_why = Por qué
map_clearance = separación
map_answer = respuesta
map_to_do = por hacer
map_sound = Sonido a lo largo de la línea
map_whole_line = Línea entera
map_near_likeliest = Cerca de lo más probable
map_sound_level = nivel del sonido, dB
map_density = densidad de la fuga, si la hay
map_from_start_axis = distancia desde el inicio
map_mark = marca
map_likeliest = más probable
map_every_status = Todos los estados
map_held_by = Detenida por
map_find = Buscar una línea
map_title = Marcas y motivos de detención
map_legend = Leyenda
map_to_map = Al mapa
map_each_reading = Cada lectura, en palabras
map_reading = Lectura
map_layers = Capas
map_l_mark = marca, con su error a lo largo y a lo ancho (95 % cada uno, si hay fuga)
map_l_likeliest = lugar más probable hasta ahora: aún sin marca
map_l_zone = zona de búsqueda; cuanto más oscura, más probable
map_l_reading = lectura en su lugar del tubo, visto de cerca: de débil a fuerte en su línea
map_l_unused = lectura no usada
map_l_next = dónde escuchar después, en orden
map_l_dig = excavación propuesta
map_l_white = línea blanca: dónde pedir las marcas
map_l_walk = tramo por caminar primero; cuanto más lleno, más probable
map_l_fitting = accesorio: de débil a fuerte
map_l_air = prueba con aire; llena: la fuga suena allí
map_l_cluster = líneas muy juntas; negro: la parte con marca
map_l_pipe_mark = tubo con marca
map_l_pipe_open = tubo: aún sin localizar
map_l_pipe_quiet = tubo: no se oyó ninguna fuga
map_l_pipe_none = tubo: sin calcular
map_l_conflict = servicio en conflicto
map_l_fix = mostrar la posición registrada de cada lectura
map_l_unknown = servicio de posición desconocida (nombre y ?)
map_water_line = línea de agua

# Capas.

group_bracket = Por dónde caminar primero
group_utilities = Otros servicios
group_pipes = Tubos
group_conflicts = Conflictos
group_request = Líneas blancas
group_dig = Excavación propuesta
group_zones = Zonas de búsqueda
group_fittings = Accesorios escuchados
group_readings = Lecturas
group_next = Dónde escuchar después
group_air = Pruebas con aire
group_marks = Marcas

# Respuesta del propietario de un servicio, y qué se sabe de lo que detiene.

owner_answered = respuesta: { TERM($response, kind: "response") }
owner_silent = sin respuesta
holds_recorded_at = Lo que detiene, según lo registrado el { DAY($time) } UTC
holds_not_dated = Lo que detiene, según lo registrado; ninguna respuesta tiene fecha
response_marked = marcado
response_clear = libre
response_not_present = no está aquí
response_on_site = en el lugar
not_on_map = { $every ->
    [yes] Ninguna línea está puesta sobre el terreno, así que este mapa no dibuja ninguna: la lista da sus distancias con cinta.
   *[other] Sin poner sobre el terreno, y por eso sin dibujar: { JOIN($lines) }{ $more ->
        [0] {""}
       *[other] {" "}y { $more } más
    }. La lista da sus distancias con cinta.
}
