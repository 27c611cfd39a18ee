# Faltas de los datos; .remedy es qué hacer.

features = { $features } elementos: { $problem }
no_geometry = No tiene geometría.
    .remedy = Dibújelo.

## Lecturas, accesorios, trazados, pruebas y excavaciones

between_routes = No tiene line_id, y su posición corresponde a dos o más trazados.
    .remedy = Corrija la lectura o su línea.
off_every_route = No tiene line_id, y está más lejos de todos los trazados de lo que explica su error.
    .remedy = Corrija la lectura o su línea.
on_rejected_line = Está en la línea { $line }, que se rechaza: { $why }
    .remedy = Corrija la lectura o su línea.
on_unknown_line = Está en la línea { $line }, que ningún trazado tiene.
    .remedy = Corrija la lectura o su línea.
taped_beyond_route = Se midió con cinta a { LENGTH($taped_m) } en un trazado de { LENGTH($route_m) }.
    .remedy = Corrija la lectura o su línea.
off_its_route = Está a { ABOUT($offset_m) } de su trazado, más de lo que explica su error.
    .remedy = Corrija la lectura o su línea.
sweeps_used = { $readings } lecturas se toman como { $sweeps ->
    [one] un barrido transversal
   *[other] { $sweeps } barridos transversales
}; { $beside } de ellas, al lado de la tubería, no se usan a lo largo de ella.
    .remedy = No haga nada si debían estar al lado de la tubería; si no, corrija offset_m o position_sd_m.
taps_used = { $readings } lecturas tomadas con { $contact } abierto en un hilo de agua muestran cómo conduce el sonido esta línea; no son indicio de una fuga.
    .remedy = No haga nada si el accesorio estaba abierto durante estas lecturas; si no, vacíe tap_open.
tap_not_on_line = Se tomó con { $contact } abierto, un accesorio sin lugar en esta línea.
    .remedy = Corrija tap_open, o dé a ese accesorio una posición en esta línea; vacíe tap_open si no había ninguna llave abierta.
tap_not_compared = Se tomó con { $contact } abierto, y no hay cerca ninguna lectura sin él que se tomara con el mismo sensor, la misma banda y una ganancia conocida.
    .remedy = Escuche allí una vez más con la llave cerrada, y anote gain_db de ambas.
tap_not_louder = Se tomó con { $contact } abierto, y suena menos de { DECIMALS($least_db, digits: 0) } dB más fuerte que la línea allí sin él.
    .remedy = Escuche más cerca del accesorio, o ábralo algo más.
walk_off_map = Las { $taped } distancias con cinta del recorrido { $walk } difieren del mapa en unos { ABOUT($off_m) }, mientras que las de otro recorrido coinciden con él; estas lecturas no se usan.
    .remedy = Revise dónde empezó la cinta, en qué sentido está dibujado el trazado, y la unidad de chainage_m.
tape_in_other_unit = Sus { $taped } distancias con cinta difieren del mapa en { ABOUT($off_m) }, y coincidirían con él si { $unit ->
    [feet] estuvieran en pies
    [metres_on_foot_map] estuvieran en metros, y el mapa en pies
    [inches] estuvieran en pulgadas
   *[centimetres] estuvieran en centímetros
}; estas lecturas no se usan.
    .remedy = Diga en una correspondencia en qué unidad está chainage_m, y revise el SRC del mapa.
tape_turned = Sus { $taped } distancias con cinta difieren del mapa en { ABOUT($off_m) }, y coincidirían con él si se contaran desde el otro extremo del trazado{ $unit ->
    [feet] {" "}y estuvieran en pies
    [metres_on_foot_map] {" "}y estuvieran en metros, y el mapa en pies
    [inches] {" "}y estuvieran en pulgadas
    [centimetres] {" "}y estuvieran en centímetros
   *[same] {""}
}; estas lecturas no se usan.
    .remedy = Invierta el trazado en el SIG, o mida con cinta desde su primer vértice.
tape_off_map = Sus distancias con cinta y sus posiciones en el mapa difieren en unos { ABOUT($off_m) }; se usa lo que tenga menor error.
    .remedy = Revise dónde empezó la cinta, en qué sentido está dibujado el trazado, y la unidad de chainage_m.
tape_from_fitting = Sus distancias con cinta y sus posiciones en el mapa difieren en unos { ABOUT($off_m) }, y coinciden si la cinta empezó en { $fitting }; se usa lo que tenga menor error.
    .remedy = Ponga { $contact } en chainage_from si la cinta empezó allí.
display_below_zero = El nivel que mostró la pantalla es menor que cero.
    .remedy = Corrija la lectura o su línea.
set_aside = Se apartó.
    .remedy = No haga nada, salvo que al final deba usarse.
more_readings_than_used = No se usa, pues hay más de { $stops } puntos de su recorrido, o { $most } lecturas, en { LENGTH($within_m) }; se usan { $kept } de las { $readings } lecturas de la línea, repartidas a lo largo de ella.
    .remedy = No haga nada: más lecturas en un mismo lugar no dicen más de él.
more_walks_than_used = No se usa, pues es de uno de más de { $walks } recorridos en { LENGTH($stretch_m) }, de los que cuentan los que tienen más lecturas; se usan { $kept } de las { $readings } lecturas de la línea.
    .remedy = Ponga set_aside en true en los recorridos que no deban contar.
another_gain = Tiene otra ganancia u otra unidad que los demás accesorios.
    .remedy = Corríjalo, o escuche de nuevo con los ajustes de los demás.
found_not_recorded = No consta el resultado de la excavación.
pipe_not_reached = La excavación no llegó a la tubería, así que no da ningún indicio sobre la fuga.
no_mark_made = No se puso ninguna marca en esta línea.
dry_away_from_mark = Una excavación seca lejos de la marca no da ningún indicio sobre ella.
another_hole_counts = Cuenta otra excavación de esta línea.
water_use_not_known = no se sabe si se usó agua
water_was_used = se usó agua
no_time_passed = no pasó tiempo entre las lecturas
meter_ran_back = la segunda lectura es menor que la primera
test_not_valid = No es válida: { $why }.
    .remedy = Cierre todas las salidas y pruebe de nuevo.
dry_at_mark = Una excavación a { ABOUT($apart_m) } de la marca no halló fuga. La marca se calcula solo con las lecturas, sin esa excavación.
    .remedy = No vuelva a excavar en esta marca: antes escuche de nuevo.
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
dig_not_counted = No cuenta: { $why }
    .remedy = No haga nada, salvo que el motivo sea incorrecto.
too_few_digs = { $digs ->
    [one] Cuenta 1 excavación
   *[other] Cuentan { $digs } excavaciones
}; con menos de { $least } no se calibra nada.
    .remedy = Añada resultados a medida que se abran excavaciones.
leaks_far_from_odds = { $lost } de { $digs } fugas estaban donde la probabilidad calculada era casi nula.
    .remedy = Revise sus trazados, longitudes y distancias con cinta: la calibración no puede corregirlos.
walk = El recorrido { $walk }
walk_unnamed = Un recorrido
group_of_walks = Un grupo de { $walks } recorridos
position_error_missing = { $walk } no tiene position_sd_m, y { $exact } de sus { $readings } puntos están exactamente en { $on ->
    [tape] el lugar de su cinta
   *[route] el trazado
}: el valor por defecto, { LENGTH($assumed_m) }, decide a qué distancia de la marca puede estar la fuga.
    .remedy = Rellene position_sd_m de este recorrido, en metros: el error de un punto tal como se midió. Si los puntos se hicieron a partir de la cinta, quítelos.
walk_without_order = { $walk } tiene { $stops } paradas con posición por satélite, y ni seq ni time dan su orden: cada una queda en su posición, y la marca puede errar tanto como ellas.
    .remedy = Rellene seq: 1, 2, 3, etc., en el orden del recorrido. O mida las paradas con cinta.
walk_order_repeats = { $walk } tiene paradas con el mismo seq o time entre sus { $stops } paradas con posición por satélite, así que no se conoce su orden: cada una queda en su posición, y la marca puede errar tanto como ellas.
    .remedy = Dé a cada parada de un recorrido su seq, y a cada recorrido su walk_id. O mida las paradas con cinta.
walk_order_unlike = { $walk } tiene { $stops } paradas cuyas posiciones por satélite no siguen la línea en el orden de seq o time: cada parada queda en su posición, y la marca puede errar tanto como ellas.
    .remedy = Revise seq, y que el recorrido sea uno solo. O mida las paradas con cinta.
level_all_alike = { $walk } muestra { $level } en sus { $stops } paradas: quizá el sensor no estaba conectado, o la ganancia era demasiado baja o demasiado alta.
    .remedy = Revise el instrumento, y escuche de nuevo.
display_full = { $walk } muestra su valor más alto, { $level }, { $times } veces: quizá la pantalla llegó a su tope, y el nivel allí era mayor.
    .remedy = Escuche allí de nuevo con menos ganancia, en un recorrido aparte.
display_at_zero = { $walk } muestra 0 en { $times } de { $stops } paradas: cuentan como por debajo del nivel más bajo de la pantalla.
    .remedy = Escuche allí de nuevo con más ganancia, en un recorrido aparte.
level_stuck = { $walk } muestra { $level } { $times } veces seguidas, desde { $reading }: quizá el sensor o la pantalla se quedó fijo.
    .remedy = Revise el instrumento, ponga true en set_aside donde se quedó fijo, y escuche de nuevo.
level_jumps = { $walk } suena { DECIMALS($by_db, digits: 0) } dB más { $louder ->
    [yes] fuerte
   *[no] débil
} desde { $reading }, de golpe: quizá se cambió allí la ganancia.
    .remedy = Si fue así, dé gain_db, o dé otro walk_id a lo que vino después.
levels_in_order = { $walk } tiene niveles que solo { $rise ->
    [yes] suben
   *[no] bajan
}, en { $stops } paradas: quizá se ordenaron sin las filas a las que pertenecen.
    .remedy = Compare los niveles con lo que se anotó en las paradas.
walk_apart = { $walk } no comparte ningún tramo con los recorridos anteriores, y no se conocen sus ganancias: sus niveles no se pueden comparar.
    .remedy = Escuche de nuevo en unas paradas del otro recorrido, con la ganancia de este.
air_too_high = El aire a { PRESSURE($air_kpa) } supera en { PRESSURE($over_kpa) } la presión de la línea, más de los { PRESSURE($most_kpa) } permitidos, así que la lectura no se acepta como prueba: se pueden dañar válvulas, calentadores y aparatos.
    .remedy = Baje el regulador, y escuche de nuevo.
air_pressure_unknown = No consta la presión del aire, o la de la línea: no se puede comparar con el límite.
    .remedy = Rellene air_kpa de las lecturas y pressure_kpa del trazado.
air_without_partner = El aire estaba en { $air } en { $readings } lecturas de esta línea que no tienen pareja con el mismo lugar, sensor, filtro y ganancia; la prueba de aire las omite.
    .remedy = Escuche en un mismo lugar, por turnos, sin aire y con aire.
calibrated = Las zonas y las probabilidades son más { $wider ->
    [yes] amplias
   *[no] estrechas
} que las del modelo: sus probabilidades se elevan a la potencia { DECIMALS($exponent, digits: 2) } (± { DECIMALS($exponent_sd, digits: 2) }), ajustada con { $digs } excavaciones.
    .remedy = Omita la calibración para ver las del modelo.
no_advice = No se puede calcular dónde escuchar después ({ $error }).
    .remedy = Escuche a pasos de un pie alrededor del punto más ruidoso.
not_worked_out = La línea no se puede calcular con sus lecturas ({ $error }).
    .remedy = Busque niveles o distancias imposibles.
no_evidence = Ninguna prueba del medidor, ningún accesorio y ninguna fuga o reparación pasada que conste señala una fuga en { $every ->
    [yes] ninguna línea
   *[no] { $lines } de las líneas
}.
    .remedy = Lea el medidor dos veces con todas las salidas cerradas antes de que nadie camine.
utility_without_position = No tiene una posición utilizable, y podría estar en cualquier parte.
    .remedy = Dele una geometría; hasta entonces detiene todas las excavaciones.
utility_shape_repaired = Su forma no es válida, y se arregló para poder medir desde ella.
    .remedy = Corrija la forma; hasta entonces detiene las excavaciones cercanas.
pixels_enlarged = Las líneas están demasiado separadas para píxeles de { FIGURES($wanted_m, digits: 3) } m en leak_density.tif: son de { FIGURES($made_m, digits: 3) } m.
    .remedy = Exporte menos líneas, con { $parameter }.
density_leaves_out = El ráster de densidad muestra las { $shown } líneas más urgentes de { $lines }; se omiten { $left }.
    .remedy = Dé a { $parameter } un número mayor.
format_loses = { $loses }
    .remedy = Use result.gpkg donde eso importe.
no_route_for_photo = No hay trazado con que mostrarla.
    .remedy = Dibuje los trazados.
nothing_selected = Se muestran todas las líneas: { $error }
    .remedy = Pida otro estado, o líneas de este trabajo.
map_leaves_out = El mapa muestra { $shown } de { $lines } líneas, las primeras por prioridad.
    .remedy = Vea las demás en result.gpkg, o dé a { $parameter } un número mayor.
route_branches = Sus partes se encuentran, pero no extremo con extremo: no se pueden medir distancias por una línea con ramal.
    .remedy = Una las partes en el SIG, o dé a cada una su line_id.
route_parted = Sus partes están separadas { LENGTH($gap_m) }, así que no se puede medir nada a lo largo de ella.
    .remedy = Una las partes en el SIG, o dé a cada una su line_id.
line_not_selected = Esta línea no se seleccionó.
value_missing = Falta { $column }.
    .remedy = Rellene { $column }.
column_missing = Falta { $column }: la capa no tiene esa columna. No se usa ninguna fila.
    .remedy = Añada la columna { $column }, o diga en una correspondencia qué columna es.
column_missing_like = Falta { $column }: la capa no tiene esa columna; { $like } se le parece. No se usa ninguna fila.
    .remedy = Escriba una correspondencia con { $column } = '{ $like }' (leakgeo mapping hace un borrador), o cámbiele el nombre.
tape_not_used = Tiene una distancia con cinta que no corresponde a su posición.
    .remedy = Corrija la lectura o su línea.
merged_with_drawn = Es la misma línea que la fila dibujada, que tiene sus valores.
identical_row = Antes hay una fila idéntica con este { $column }.
    .remedy = Quite la copia.
copy_of_reading = Es una copia de una lectura de { $of }.
    .remedy = Conserve cada lectura una sola vez.
fitting_not_listened = No se escuchó: solo sirve para cintas y lugares.
    .remedy = No haga nada, salvo que haya que escucharlo.
kept_lines_damaged = { $file } en la carpeta de resultados está dañado, o no lo escribió leakgeo; sus líneas se calculan de nuevo.
kept_pieces_damaged = { $file } en la carpeta de resultados está dañado, o no lo escribió leakgeo; los productos se hacen de nuevo.
law_held = La ley del ruido es la que se aprendió antes de { $lines } líneas, pues una actualización la mantiene.
    .remedy = Para aprenderla del trabajo como está ahora, actualice con --relearn (en Python relearn=True).
law_held_with_other = Se aprendió con otros valores de { JOIN($parameters, by: ", ") }.
law_learned_again = La ley del ruido se aprende de nuevo, así que se calculan todas las líneas: { $why ->
    [asked] como se pidió
    [digs] los resultados de las excavaciones cambiaron
    [lines] más de un quinto de las líneas son nuevas
    [given] la actualización anterior usó una que se le dio
   *[file] ground.toml no es el archivo que escribió la última actualización
}.
law_would_move = Una ley del ruido aprendida del trabajo como está ahora daría otro estado a { $moved } de las { $looked_at } líneas examinadas: { $lines }.
    .remedy = Para usarla en todas las líneas, actualice con --relearn (en Python relearn=True).
