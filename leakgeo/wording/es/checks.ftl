isolated_flow_rises = El caudal subió después de cerrar las válvulas, a { $value }: esta prueba de aislamiento no muestra nada.
    .remedy = Corrija before y after si están intercambiados; si no, busque qué consumía agua, y repita la prueba.
valve_off_line = La válvula está a { LENGTH($off_m) } de { $line }, la línea que nombra su line_id: allí no corta nada.
    .remedy = Corrija su posición o su line_id.
valve_off_network = La válvula está a { LENGTH($off_m) } de la línea más cercana: no corta nada.
    .remedy = Corrija su posición, o añada la línea en que está.
