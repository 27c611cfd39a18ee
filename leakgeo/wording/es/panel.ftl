# El panel en QGIS y `leakgeo ask`: lo que hay bajo el puntero, y sus títulos.

panel_stop = Punto { $reading }: { DECIMALS($level_db, digits: 1) } dB
panel_stop_without_level = Punto { $reading }: sin nivel comparable
panel_at = A { LENGTH($chainage_m) } a lo largo de la tubería
panel_taped = Medido con cinta: { $tape }
panel_taped_from = Medido con cinta: { $tape } desde { $fitting }
panel_taped_toward = Medido con cinta: { $tape } desde { $fitting } hacia { $toward }
panel_by_position = Situado por su posición
panel_used = Se usa
panel_not_used = No se usa: { $why }
panel_aside_here = Apartado solo en este «¿y si...?»; los datos no cambian.
panel_near = { PERCENT($probability, at: "start") } de que haya una fuga a menos de { FOOT() } de aquí
panel_level_here = Sonido { DECIMALS($level_db, digits: 1) } dB, con un error de { DECIMALS($sd_db, digits: 1) }
panel_zone = { PERCENT($probability, at: "start") } de que haya una fuga de { LENGTH($from_m, round: "down") } a { LENGTH($to_m, round: "up") }
panel_mark = Marca, a { LENGTH($chainage_m) } a lo largo de la tubería
panel_likeliest = Lugar más probable hasta ahora, a { LENGTH($chainage_m) } a lo largo de la tubería; todavía sin marca
panel_fitting = { $what }, a { LENGTH($chainage_m) } a lo largo de la tubería
panel_next = Escuchar después, punto { $order }: a { LENGTH($chainage_m) } a lo largo de la tubería
panel_next_taped = Escuchar después, punto { $order }: { $taped } (a { LENGTH($chainage_m) } a lo largo de la tubería)
panel_what_if = ¿Y si...?: sin { JOIN($readings) }. Los datos no cambian.

## Títulos y leyenda del gráfico

panel_how_sure = Certeza
panel_evidence = Indicios a favor y en contra
panel_else = Qué otra cosa puede ser
panel_holds = Qué detiene la excavación
panel_actions = Qué hacer ahora, y qué esperar de ello
panel_stops = Puntos
panel_faults = Notas sobre los datos
panel_axis = a lo largo de la tubería
panel_level = sonido, dB
panel_odds = probabilidad de la fuga
panel_l_used = punto usado
panel_l_unused = no usado
panel_l_aside = apartado
panel_l_zone = zona de búsqueda
panel_l_mark = marca
panel_l_likeliest = lo más probable
panel_l_next = escuchar después
panel_l_fitting = accesorio

## Páginas de ayuda de los comandos en el complemento

page_plugin = leakgeo en QGIS
page_layers = Capas
page_choose = Elija capas del proyecto, o en su lugar el archivo de un trabajo que las tenga.
page_points = puntos
page_lines = líneas
page_areas = áreas
page_table = tabla
page_needed = necesaria
page_optional = opcional
page_in = en { $unit }
page_or = o
page_least = al menos { $value }
page_most = a lo sumo { $value }
page_default = por defecto { $value }
page_on = sí
page_required = obligatorio
page_results = Resultados
page_files = Archivos
page_calls = En la línea de órdenes
