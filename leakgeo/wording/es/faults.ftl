isolation_shows_nothing = Esta prueba de aislamiento no muestra nada: { $why ->
    [place] el lugar de la medición no está en ninguna línea conocida.
    [valve_place] una válvula que se cerró no está en ninguna línea conocida, o está en una te de una línea que sigue de largo.
    [side] la medición está tan cerca de una válvula cerrada, o el flujo es tan incierto, que no se sabe de qué lado está.
    [no_valve] no se cerró ninguna válvula alrededor del lugar de la medición.
    [loop] hay tubería que rodea lo que se cerró: no se aisló nada.
    [overlap] otra prueba cerró una válvula en este tramo al mismo tiempo.
    [supplied] quedó abierto un extremo hacia la red, o varios de flujo desconocido, que mantiene la presión.
    [wide] hay demasiadas líneas entre las válvulas que se cerraron.
   *[repaired] desde entonces se reparó una fuga en el tramo aislado.
}
    .remedy = { $why ->
        [place] Corrija la posición o el line_id de measured_at.
        [valve_place] Dé line_id y posición de la válvula, y corrija las filas de closed_valves que se rechazaron.
        [side] Mida en un accesorio más lejano de la válvula, o dé el lado del medidor en que están los accesorios.
        [no_valve] Añada a closed_valves las válvulas que se cerraron.
        [loop] Cierre una válvula en cada camino hacia el tramo, y repita la prueba; si falta una válvula, añádala a closed_valves.
        [overlap] Si las dos eran una sola prueba, ponga todas sus válvulas; si no, corrija las horas, o repítalas, una por una.
        [supplied] Cierre la válvula hacia la red, y repita la prueba.
        [wide] Cierre válvulas más cercanas al lugar de la medición, y repita la prueba.
       *[repaired] Repita la prueba.
    }
district_test_left_out = Esta prueba en una entrada no cuenta en la prueba por pasos: { $why ->
    [measure] no se leyó un caudal.
    [valve_place] una válvula que se cerró no está en ninguna línea conocida, o está donde se unen tuberías.
    [other_valve] una válvula que se cerró no es de las del sector que se pueden cerrar.
    [no_valve] no se cerró ninguna válvula del sector.
    [inlets] el caudal no se leyó en todas las entradas al mismo tiempo.
    [no_loss] el caudal de antes no superaba el uso normal.
    [rises] el caudal subió.
   *[repaired] desde entonces se reparó una fuga del sector.
}
    .remedy = { $why ->
        [measure] Lea el caudal en cada entrada con las válvulas abiertas, y luego cerradas.
        [valve_place] Dé line_id y posición de la válvula, y corrija las filas de closed_valves que se rechazaron.
        [other_valve] Corrija closed_valves, boundary o leaks_by, o repita la prueba sin esa válvula.
        [no_valve] Añada a closed_valves las válvulas que se cerraron.
        [inlets] Lea todas las entradas en la misma prueba, y corrija las horas, o las entradas dadas.
        [no_loss] Corrija use_l_per_min, o pruebe cuando haya menos uso.
        [rises] Pruebe de nuevo cuando se use menos agua.
       *[repaired] Repita la prueba.
    }
more_readings_than_used = No se usa, pues hay más de { $stops } puntos de su recorrido, o { $most } lecturas, en { LENGTH($within_m) }; se usan { $kept } de las { $readings } lecturas de la línea, repartidas a lo largo de ella.
    .remedy = Nada: más lecturas en un mismo lugar no dicen más de él.
more_walks_than_used = No se usa, pues es de uno de más de { $walks } recorridos en { LENGTH($stretch_m) }, de los que cuentan los que tienen más lecturas; se usan { $kept } de las { $readings } lecturas de la línea.
    .remedy = Ponga set_aside en true en los recorridos que no deban contar.
fitting_not_listened = No se escuchó: solo sirve para cintas y lugares.
    .remedy = Nada, salvo que haya que escucharlo.
kept_lines_damaged = { $file } en la carpeta de resultados está dañado, o no lo escribió leakgeo; sus líneas se calculan de nuevo.
kept_pieces_damaged = { $file } en la carpeta de resultados está dañado, o no lo escribió leakgeo; los productos se hacen de nuevo.
law_held = La ley del ruido es la que se aprendió antes de { $lines } líneas, pues una actualización la mantiene.
    .remedy = Para aprenderla del trabajo como está ahora, actualice con relearn.
law_held_with_other = Se aprendió con otros valores de { JOIN($parameters, by: ", ") }.
law_learned_again = La ley del ruido se aprende de nuevo, así que se calculan todas las líneas: { $why ->
    [asked] como se pidió
    [digs] los resultados de las excavaciones cambiaron
    [lines] más de un quinto de las líneas son nuevas
    [given] la actualización anterior usó una que se le dio
   *[file] ground.toml no es el archivo que escribió la última actualización
}.
