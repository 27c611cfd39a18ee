# Resultados de una línea, maneras de mejorar, y dónde escuchar después.

## Mensaje de una línea

mark = Marca { $place }; { ODDS($within_foot) } de que la fuga esté a menos de { FOOT() }.
likeliest = Sin marca todavía: lo más probable { $place }; { ODDS($within_foot) } de que la fuga esté a menos de { FOOT() }.
marks_of_leaks = Se vieron { $leaks } fugas en excavaciones y no consta su reparación: { JOIN($places, by: "; ") }.
leaks_without_marks = Sin marcas todavía: se vieron { $leaks } fugas en excavaciones y no consta su reparación; lo más probable { JOIN($places, by: "; ") }.
mark_of_leak = marca { $rank }, { $place } ({ ODDS($within_foot) } de que la fuga esté a menos de { FOOT() })
leak_on_line = { PERCENT($probability, at: "start") } de que haya una fuga en esta línea.
also_possible = También es posible: { JOIN($places, by: "; ") }.
also_on_line = { SPAN($from_m, $to_m, outward: "yes") } ({ PERCENT($probability) })
also_on_other_line = en { $line }, a unos { ABOUT($chainage_m) } ({ PERCENT($probability) })
other_source = En esta línea suena otra fuente constante.
beside_fitting = Junto a este lugar está { $fitting }, que puede sonar por sí mismo: escuche de nuevo con él desviado o cerrado por su propietario. Una fuga alimentada a través de él también calla.
also_fitting = { $place } puede sonar por sí mismo ({ PERCENT($probability) })
also_beyond = más allá de { $place } ({ PERCENT($probability) })
fitting_sounds = Es más probable que { $fitting } suene por sí mismo ({ PERCENT($probability) }) que una fuga en esta línea.
leak_beyond = La fuga es más probable más allá de { $end } ({ PERCENT($probability) }) que en esta línea.
sounds_elsewhere = Lo que se oye es más probablemente otra fuente ({ PERCENT($probability) }) que una fuga en esta línea.
limited_by_sound = El sonido limita esto: ruido de fondo, o una fuga que no es fuerte.
limited_by_position = Las posiciones de las lecturas son poco precisas: mida los puntos con cinta desde un accesorio conocido.
limited_by_spacing = Las lecturas están demasiado separadas: escuche entre ellas.
limited_by_trace = Los barridos transversales suenan más fuerte al lado del trazado: vuelva a trazar la tubería.
limited_by_shape = El nivel no sube y baja como sobre una sola fuga: escuche a ambos lados de la tubería, y una vez más con otro sensor.
likelier_on_other_line = La fuga es más probable en otra línea cercana.
no_leak_heard = No se oyó ninguna fuga en estas lecturas; eso solo no la descarta.
not_shown = Estas lecturas no muestran si hay una fuga.
before_listening = Antes de escuchar, la probabilidad era { PERCENT($probability) }.
more_evidence = Hacen falta más indicios.
no_reading_on_line = No hay lecturas en esta línea.
not_listened_since_repair = No se ha escuchado desde la reparación del { DAY($day) }.
no_usable_reading = No se puede usar ninguna de sus { $readings } lecturas; la primera: { $first }

## Preguntas en lugar de un resultado

ask_tape_unit = ¿Está chainage_m en { $unit ->
    [feet] pies
    [inches] pulgadas
    [centimetres] centímetros
   *[metres_on_foot_map] metros, y el mapa en pies
}? { $wrong } de sus { $readings } lecturas no caben en la línea en metros.
    .remedy = Indique en una correspondencia la unidad de chainage_m, y revise el SRC del mapa.
ask_tape_end = ¿Se midió con la cinta desde el otro extremo del trazado{ $unit ->
    [feet] , en pies
    [inches] , en pulgadas
    [centimetres] , en centímetros
    [metres_on_foot_map] , y está el mapa en pies
   *[same] {""}
}? { $wrong } de sus { $readings } lecturas no corresponden a la línea de otro modo.
    .remedy = Nombre en chainage_from el accesorio de ese extremo, o invierta el trazado en el SIG.
ask_tape_start = ¿Dónde empezó la cinta, y está chainage_m en metros? { $wrong } de sus { $readings } lecturas no corresponden a la línea.
    .remedy = Nombre el accesorio en chainage_from, o indique en una correspondencia la unidad de chainage_m.
ask_display = ¿Es una escala lineal, como de 0 a 100? { $wrong } de sus { $readings } niveles no parecen decibelios.
    .remedy = Ponga scale en sound_unit si lo es. Si no lo es, ejecute el trabajo con --trust-declarations (en Python trust_declarations=True). Todas las líneas de un mismo sensor se juzgan juntas: puede preguntarse por una línea en decibelios a causa de las demás.
ask_depth_unit = ¿Está depth_m de los trazados en { $unit ->
    [feet] pies
   *[inches] pulgadas
}? Es { FIGURES($depth_m, digits: 4) }, y en metros las líneas de agua no están a esa profundidad.
    .remedy = Indique en una correspondencia la unidad de depth_m de los trazados. Si son metros, ejecute el trabajo con --trust-declarations (en Python trust_declarations=True).
ask_positions = ¿Están las posiciones en otro SRC, o son de otra línea? { $wrong } de sus { $readings } lecturas no están en esta línea.
    .remedy = Revise el SRC de las lecturas, el de los trazados, y line_id.

## Indicios

evidence_prior = Antes de cualquier indicio, una fuga se considera { FIGURES($times, digits: 3) } veces { $likelier ->
    [yes] más probable
   *[no] menos probable
} que ninguna fuga.
evidence_sound = Los niveles son { FIGURES($times, digits: 3) } veces más probables { $likelier ->
    [yes] con una fuga que sin ella.
   *[no] sin fuga que con ella.
}
evidence_air = La prueba de aire es { FIGURES($times, digits: 3) } veces más probable { $likelier ->
    [yes] con una fuga que sin ella.
   *[no] sin fuga que con ella.
}
meter_stood_still = El medidor no se movió durante { FIGURES($hours) } horas: { $times } veces menos probable que esta tubería tenga una fuga{ $below ->
    [yes] {" "}aguas abajo de él
   *[no] {""}
}. Una pérdida de menos de { LITRES($least_l) } al día no se notaría.
meter_turned = El medidor se movió{ $shut ->
    [yes] {" "}con la válvula de la casa cerrada
   *[no] {""}
}, { LITRES($loss_l) } al día: { $times } veces { $likelier ->
    [yes] más probable
   *[no] menos probable
} que esta tubería tenga una fuga{ $below ->
    [yes] {" "}aguas abajo de él
   *[no] {""}
}.
meter_turned_for_house = El medidor se movió, { LITRES($loss_l) } al día, y no se movió con la válvula de la casa cerrada: el agua se usa o se pierde más allá de esa válvula, y es { $times } veces menos probable que esta tubería tenga una fuga{ $below ->
    [yes] {" "}aguas abajo del medidor
   *[no] {""}
}.
meter_below_line = Esta tubería está aguas arriba del medidor, que no mide nada de ella.
meter_place_assumed = No se conoce el lugar del medidor, o el sentido del flujo: se supone que la tubería está aguas abajo de él.
repair_verified = Eso confirma la reparación del { DAY($day) }.
still_turns_after_repair = Aún se mueve después de la reparación del { DAY($day) }: hay otra fuga, o se usa agua.
isolated_pressure = Con { shut_valves } cerradas, la presión en { $at } { $shows ->
    [yes] bajó
    [partly] bajó un poco
   *[no] se mantuvo
}, de { PRESSURE($before_kpa) } a { PRESSURE($after_kpa) } en { FIGURES($minutes) } minutos: { isolated_means }
isolated_flow = Con { shut_valves } cerradas, el caudal en { $at } { $shows ->
    [yes] siguió
    [partly] bajó, pero siguió
   *[no] cesó
}: { isolated_means }
isolated_meter = Con { shut_valves } cerradas, el medidor { $at } { $shows ->
    [yes] se movió
   *[no] no se movió
} durante { FIGURES($minutes) } minutos: { isolated_means }
shut_valves = { JOIN($valves) }{ $more ->
    [0] {""}
   *[other] {" "}y { $more } más
}
isolated_means = { $times } veces { $likelier ->
    [yes] más probable
   *[no] menos probable
} que { $place ->
    [line] esta tubería tenga una fuga.
    [span] esta tubería tenga una fuga en { SPAN($from_m, $to_m) }.
    [beyond] esta tubería tenga una fuga más allá de { LENGTH($from_m) }.
    [before] esta tubería tenga una fuga antes de { LENGTH($to_m) }.
    [parts] los tramos aislados de esta tubería tengan una fuga.
   *[none] una tubería contigua tenga una fuga.
}
meter_may_be_stuck = Aun así, el medidor no se movió: puede estar atascado. Pruebe el medidor.
fitting_was_shut = { $found ->
    [yes] El sonido cesó
   *[no] El sonido no cesó
} al cerrar { $fitting }: { times_likelier } que suene por sí mismo.
listened_beyond = { $found ->
    [yes] Suena más fuerte
   *[no] No suena más fuerte
} en los accesorios más allá de { $end }: { times_likelier } que la fuga esté más allá.
looked_inside = { $found ->
    [yes] Corre agua
   *[no] No se halló agua que corra
} en el edificio: { times_likelier } que el agua se use o se pierda más allá del extremo del cliente.
source_looked_for = { $found ->
    [yes] Se halló otra fuente de sonido
   *[no] No se halló otra fuente de sonido
}: { times_likelier } que lo que se oye sea otra fuente.
times_likelier = es { $times } veces { $found ->
    [yes] más probable
   *[no] menos probable
}
action_results_concern_nothing = Lo que mostraron otras acciones no concierne a nada que se considere en esta línea.
dig_saw_dry_pipe = Tubería vista seca a { SPAN($from_m, $to_m) }{ $dated ->
    [yes] {" "}el { DAY($day) }
   *[no] {""}
}.
dig_saw_leak = Se vio una fuga a { SPAN($from_m, $to_m) }{ $dated ->
    [yes] {" "}el { DAY($day) }
   *[no] {""}
}, y no consta ninguna reparación.
sweep_over_pipe = El barrido transversal en { LENGTH($chainage_m) } suena más fuerte sobre el trazado, ± { ABOUT($sd_m) }.
sweep_beside = El barrido transversal en { LENGTH($chainage_m) } suena más fuerte { ABOUT($offset_m) } a la { $side ->
    [left] izquierda
   *[right] derecha
} del trazado: el trazado está mal allí, o no es esta tubería.
sweep_beyond = El barrido transversal en { LENGTH($chainage_m) } suena más fuerte en su lectura extrema, { ABOUT($offset_m) } a la { $side ->
    [left] izquierda
   *[right] derecha
} del trazado: la fuente está allí o más allá de lo barrido, y difícilmente es esta tubería.
sweep_over_other_line = El barrido transversal en { LENGTH($chainage_m) } suena más fuerte hacia la línea { $line }, con mayor probabilidad { ABOUT($offset_m) } a la { $side ->
    [left] izquierda
   *[right] derecha
} del trazado: el sonido es probablemente de esa línea.
sweep_flat = El barrido transversal en { LENGTH($chainage_m) } no tiene un máximo claro: apenas indica dónde está el sonido.
tap_teaches = Tomada con { $contact } abierto en un hilo de agua, en { LENGTH($chainage_m) }: muestra cómo conduce el sonido esta línea y no es indicio de una fuga.
air_compared = Tomada con aire: se compara con la de sin aire en el mismo lugar y no se usa a lo largo de la línea.
swept_across = Parte del barrido transversal en { LENGTH($chainage_m) }; no se usa a lo largo de la línea.

## Consejo

splits_stretch = divide el tramo más probable: si hay una fuga, está antes de este punto con probabilidad { PERCENT($before) }, más allá con { PERCENT($beyond) }
beside_stretch = junto al tramo más probable: muestra cuán rápido se apaga el sonido
first_walk = primer recorrido
first_walk_in_bracket = primer recorrido del tramo que señalan los accesorios
short_enough = Hay lecturas suficientes: la zona de búsqueda no es más larga que los { LENGTH($wanted_m) } pedidos.
zone_is_short = No hacen falta más puntos: la zona de búsqueda no es más larga que los { LENGTH($wanted_m) } pedidos.
enough_readings = Hay lecturas suficientes.
more_stops_unclear = Más puntos como estos apenas mostrarían si hay una fuga.
more_stops_no_shorter = Más puntos como estos apenas acortarían la zona de búsqueda.
leak_not_heard = Se recorrió la línea, y no se oyó la fuga que muestran otras pruebas.
read_meter_again = Cierre todas las salidas y lea otra vez el medidor, pues ninguna prueba es válida.
next_action = { $action ->
    [position] Mida los puntos con cinta desde un accesorio conocido, y escuche de nuevo.
    [night] Escuche de nuevo tarde por la noche.
    [probe] Repita las lecturas con una varilla clavada en el suelo, solo tras marcar todos los servicios, y no donde pueda haber uno.
   *[pressure] Que la persona a cargo de la línea suba la presión hacia su presión nominal, y escuche de nuevo.
}
until_short = Pare cuando la zona de búsqueda no sea más larga que { LENGTH($wanted_m) }.
not_this_pipe = No se propone nada más en esta línea, pues su propia tubería probablemente no fuga: ocúpese de lo demás que suena.
nothing_else = No se espera que nada más de la lista diga más por su tiempo: pida otro localizador, o vuelva cuando algo haya cambiado.
walk_on = Siga el recorrido hacia { $end }: { $rises ->
    [yes] el nivel aún sube
   *[no] puede haber una fuga más allá del último punto
} (probabilidad { PERCENT($probability) }). Siga hasta que el nivel baje en dos puntos seguidos.
walk_goes_on = el recorrido sigue
sweep_across = Barra en transversal { $place }: siete lugares, a dos pies uno de otro, para ver si el sonido está sobre su trazo.
read_meter = { $twice ->
    [yes] Cierre todas las salidas, y lea el medidor ahora y { DECIMALS($wait_min, digits: 0) } minutos después. Luego que el propietario cierre despacio la válvula de la casa, y léalo otra vez tras el mismo tiempo: las dos lecturas muestran
   *[no] Cierre todas las salidas, que el propietario cierre despacio la válvula de la casa, y lea el medidor ahora y { DECIMALS($wait_min, digits: 0) } minutos después: muestra
} si la pérdida está antes de la válvula de la casa o más allá. Solo el propietario cierra esa válvula, y no donde alimenta rociadores contra incendio o a personas que no pueden quedar sin agua.{ $meanwhile ->
    [yes] {" "}Mientras espera, escuche en los puntos.
   *[no] {""}
}
close_valve = Cierre todas las salidas de la parte. Que el personal del propietario cierre { JOIN($valves) }, lea { $measure ->
    [meter] el medidor
    [flow] el caudal
   *[pressure] la presión
} en { $at }, y léalo otra vez { DECIMALS($wait_min, digits: 0) } minutos después: muestra si la pérdida está en la parte aislada.
open_trickle = Abra { $fitting } a un hilo de agua, y escuche en puntos a su lado (práctica común).
look_inside = Busque en el edificio agua que corra: inodoros, válvula de alivio del calentador, ablandador, riego.
air_on_and_off = Escuche { $place } y en un punto de control, con aire inyectado, con él y sin él.
and_then = Si eso no lo decide, después: { $action ->
    [sweep] barra la línea en transversal.
    [listen_beyond] escuche más allá del extremo.
    [read_meter] que el propietario cierre la válvula de la casa, y lea el medidor.
    [close_valve] que el personal del propietario cierre una válvula, según las reglas de la empresa, y vea si la pérdida sigue.
    [air] escuche con aire inyectado, con él y sin él, si la persona a cargo de la línea está de acuerdo y el código local lo permite.
    [look_inside] busque agua que corra en el edificio.
    [shut_fitting] haga desviar o cerrar el accesorio por su propietario.
    [find_source] averigüe qué más suena.
   *[listen] escuche en los puntos siguientes.
}
listen_on = { $stops ->
    [one] Escuche en 1 punto más
   *[other] Escuche en { $stops } puntos más
}: se espera que la zona de búsqueda se acorte en { PERCENT($less) }, a unos { LENGTH($after_m) }.
listen_to_decide = { $stops ->
    [one] Escuche en 1 punto más
   *[other] Escuche en { $stops } puntos más
} para decidir si hay una fuga.
stops_at = Escuche { JOIN($places, by: "; ") }.
and_more_stops = y en { $stops ->
    [one] 1 punto más
   *[other] { $stops } puntos más
}
next_stop = Próximo punto: { $place }.
next_stop_of_some = Próximo punto: { $place }; { $more ->
    [one] 1 más después
   *[other] { $more } más después
}.
shut_fitting = Haga que su propietario desvíe { $fitting }, o lo cierre si eso no es posible, y escuche de nuevo. Una fuga alimentada a través de él también calla.
listen_beyond = Escuche en los accesorios más allá de { $end }.
trace_again = Vuelva a trazar la tubería en { LENGTH($chainage_m) }: ella, o un ramal que no está en el plano, puede estar { ABOUT($offset_m) } a la { $side ->
    [left] izquierda
   *[right] derecha
}. Luego barra allí de nuevo en transversal, y en otros dos lugares.
sweep_further = Barra más hacia la { $side ->
    [left] izquierda
   *[right] derecha
} en { LENGTH($chainage_m) }: el sonido es más fuerte a { ABOUT($offset_m) }, donde terminó el barrido.
find_other_source = Averigüe qué más suena aquí: apáguelo, o escuche cuando esté en silencio.
answer_question = Responda esa pregunta, corrija los datos, y ejecute el trabajo de nuevo.
no_evidence_yet = Aún sin escuchar, y nada indica una fuga aquí: lea el medidor con todas las salidas cerradas, o escuche en los accesorios, antes de recorrerla.
walk_first = Aún sin escuchar: recorra { $in_bracket ->
    [yes] el tramo que señalan los accesorios
   *[no] la línea
} con { $stops ->
    [one] 1 punto
   *[other] { $stops } puntos, cada { ABOUT($step_m) } más o menos
}, y calcule el trabajo de nuevo.
walk_after_repair = No se ha medido nada desde la reparación: lea el medidor dos veces, sin usar agua. Si gira, o no hay medidor, recorra { $in_bracket ->
    [yes] el tramo que señalan los accesorios
   *[no] la línea
} con { $stops ->
    [one] 1 punto
   *[other] { $stops } puntos, cada { ABOUT($step_m) } más o menos
}. Después calcule el trabajo de nuevo.
nothing_since_repair = Nada de lo medido desde la reparación indica una fuga: no se propone ningún recorrido.

## Tabla de las acciones siguientes

step_with_place = { TERM($action, kind: "step") }: { $place }
at_chainage = a { LENGTH($chainage_m) }
doubt_less = { PERCENT($share) }{ $basis ->
    [assumed] {" "}(supuesto)
    [common_practice] {" "}(práctica común)
   *[model] {""}
}
doubt_not_computed = { $basis ->
    [common_practice] práctica común
    [rule] va primero
   *[other] sin calcular
}

## Qué más puede ser

what_else = Qué más puede ser: { JOIN($each, by: "; ") }
may_be_nearby_line = una fuga en { $line }, a unos { ABOUT($at_m) } ({ PERCENT($probability) })
may_be = { $kind ->
    [beyond_start] una fuga antes del inicio del trazado
    [beyond_end] una fuga más allá del final del trazado
    [silence] nada que suene
   *[unknown] otra fuente
} ({ PERCENT($probability) })

## Maneras de mejorar

improvement_night = Escuche tarde por la noche, con unos { DECIMALS($quieter_db, digits: 0) } dB menos de ruido ambiental: el modelo espera { $effect }.
improvement_probe = Clave una varilla en el suelo en vez de apoyar una placa: el modelo espera { $effect }.
improvement_spacing = Escuche a pasos de un pie { $marked ->
    [yes] alrededor del lugar más probable
   *[no] donde puede estar la fuga
}: el modelo espera { $effect }.
improvement_position = Mida con cinta tres puntos de la caminata junto al lugar más probable, desde un accesorio de lugar conocido: el modelo espera { $effect }.
improvement_trickle = Abra { $fitting } a un hilo de agua, y escuche en puntos a su lado para saber cómo lleva el sonido esta línea (práctica común): el modelo espera { $effect }.
improvement_pressure = Que la persona a cargo de la línea suba la presión de { PRESSURE($from_kpa) } hacia su presión nominal de { PRESSURE($to_kpa) }: el modelo espera { $effect }.
improvement_pressure_unknown = Con más presión una fuga suena más fuerte; cuánto, no se sabe sin { $lacks ->
    [pressure] la presión de la línea
   *[rating] la presión nominal de la línea
}.
effect_little = poca mejora (error mínimo posible { LENGTH($before_m) })
effect_less = que el error mínimo posible baje de { LENGTH($before_m) } a { LENGTH($after_m) }
needs_help = { JOIN($because, by: "; ") }
because_deep = una línea profunda
because_plastic = plástico, que lleva poco sonido
because_grass = césped, que lleva poco sonido
because_quiet = no se oyó ninguna fuga
because_wide = la fuga no está acotada

## Primer reconocimiento

stretch = { $where }, { $why }: { PERCENT($probability) } de la probabilidad, si estas tuberías tienen una fuga.
between_fittings = Entre { $from } y { $to }
beyond_fitting = Más allá de { $fitting }, { SPAN($from_m, $to_m) } de la línea
part_of_line = De { SPAN($from_m, $to_m) } de la línea
why_loudest_two = los dos más ruidosos
why_on_path = en el camino entre { $loudest } y { $second }, los dos más ruidosos
why_beside = junto a { $loudest }, el más ruidoso
why_open = más lejos, pero los niveles no lo descartan
walk_in_order = Recórralo como número { $order }.
walk_it_first = Recórralo primero.
walk_it_first_from = Recórralo primero, desde { $loudest }, y compruebe que { $loudest } mismo no tenga fuga.
quiet_fittings_between = Hay accesorios silenciosos entre este tramo y los más ruidosos: trátelo como una fuente aparte.
pipes_not_listed = Las tuberías que no se listan tienen { PERCENT($probability) } de la probabilidad.
levels_show_little = Los niveles en estos accesorios apenas son indicio de una fuga.

## Pruebas del medidor

loss_not_known = No se conoce la pérdida: cierre todas las salidas y pruebe de nuevo.
no_loss = Sin pérdida en { FIGURES($hours, digits: 3) } horas; una pérdida de menos de { LITRES($least_l) } al día no se notaría.
loss = Pierde { LITRES($loss_l) } al día{ ALIKE($low_l, $high_l) ->
    [yes] {""}
   *[no] {" "}(95 %: { LITRES($low_l, $high_l) })
}.
loss_and_hole = Pierde { LITRES($loss_l) } al día{ ALIKE($low_l, $high_l) ->
    [yes] {""}
   *[no] {" "}(95 %: { LITRES($low_l, $high_l) })
}, como un agujero de { DIAMETER($hole_mm) } a { PRESSURE($pressure_kpa) }.
loss_is_one_step = Eso es un paso del registro: pruebe durante más tiempo.
loss_maybe_inside = El agua también puede perderse dentro del edificio: cierre la válvula de ahí y pruebe otra vez.
tests_not_valid = { $invalid } de { $tests } pruebas no válidas: { $why }.
tests_disagree = Sus pruebas no coinciden ({ LITRES($low_l, $high_l) } al día); cuenta la última. En una se usó agua, o la fuga creció. Pruebe de nuevo.

## Prueba por pasos de un sector

district_shut = De noche, que el personal del propietario cierre { JOIN($valves) }{ $together ->
    [yes] {" "}a la vez
   *[no] {""}
}, y lea el caudal en { JOIN($inlets) } antes y después{ $several ->
    [yes] {", en todos al mismo tiempo"}
   *[no] {""}
}: muestra si la pérdida está en la parte aislada. Anótelo en isolation_tests y closed_valves, y repita el paso.
district_found = La prueba por pasos termina: la pérdida está en el segmento { $segment } con { PERCENT($probability) } de probabilidad.
district_ends = La prueba por pasos termina, pues no se espera que otro cierre diga lo suficiente. El segmento { $segment } es el más probable ({ PERCENT($probability) }); la pérdida está en uno de { JOIN($segments) }{ $more ->
    [0] {""}
   *[other] {" "}y { $more } más
} con { PERCENT($together) } de probabilidad.
district_no_valve = Ninguna válvula del sector se puede cerrar, así que no es posible una prueba por pasos.
district_loops = No se espera que un cierre de hasta { $valves } válvulas diga lo suficiente, pues a casi todas las partes les llega agua por varios lados. Que el personal del propietario cierre más válvulas durante la noche, para que menos caminos lleven a cada parte, y póngalas en boundary.
district_walk = Recorra ahora { JOIN($lines) }{ $more ->
    [0] {""}
   *[other] {" "}y { $more } más
}: leakgeo advise, con first_walks en all, da los puntos.

## Pruebas de aire

air_change = El aire cambia aquí el nivel en { SIGNED($change_db, digits: 1) } dB ({ $pairs ->
    [one] 1 par
   *[other] { $pairs } pares
}).
air_change_with_control = El aire cambia aquí el nivel en { SIGNED($change_db, digits: 1) } dB ({ $pairs ->
    [one] 1 par
   *[other] { $pairs } pares
}), en { SIGNED($control_db, digits: 1) } dB en el control.
air_as_likely = Esto es igual de probable si la fuga suena aquí o si no.
air_likelier = Esto es { $times } veces más probable si la fuga suena aquí que si no.
air_less_likely = Esto es { $times } veces menos probable si la fuga suena aquí que si no.
air_confirmed = El sonido de aquí sigue al aire, así que viene de esta línea.
air_not_this = El sonido de aquí no sigue al aire: no es esta fuga la que suena aquí.
air_inconclusive = Esto no es concluyente.
air_no_control = Escuche también en un punto de control, a { LENGTH($control_m) } o más, donde ya no se oiga el sonido.
air_control_changes = El control también cambia: elija un punto de control donde la fuga ya no se oiga.
air_more_do_not_help = No se espera que más pares lo decidan: elija un punto de control más lejano.
air_more_pairs = { $pairs ->
    [one] Un par más aquí y en el control puede decidirlo.
   *[other] { $pairs } pares más aquí y en el control pueden decidirlo.
}

before_air = Antes de dar el aire, que esté de acuerdo la persona a cargo de la línea; rige el código local. El aire comprimido almacena energía: use solo aire sin aceite, manténgase lejos de tapones y tapas, y purgue el aire despacio antes de abrir nada (práctica común).
air_in_plastic = Esta tubería es de plástico, que el gas comprimido puede hacer estallar (práctica común), y algunos fabricantes de tubería de PVC no admiten pruebas con gas (ASTM D1785, sección 1.2): dé aire solo si el fabricante de la tubería y el código local lo permiten.
air_in_unknown_pipe = No se conoce el material de esta tubería: hasta conocerlo, considérela de plástico, que el gas comprimido puede hacer estallar (práctica común).
air_cautions = No suba el aire más del límite del regulador por encima de la presión de la propia línea. Cierre todas las salidas y las válvulas de los calentadores. Que alguien con licencia maneje el dispositivo contra reflujo. Baje el volumen antes de dar el aire, y protéjase los oídos. Nunca escuche mientras se mueve el sensor.
valve_cautions = Solo el personal del propietario maneja una válvula. Las reglas de la empresa de agua van primero. Antes de cerrar, averigüe quién quedaría sin agua: líneas contra incendio, hospitales, diálisis, otros que no pueden esperar. Avise antes a los clientes. Cierre despacio: un cierre rápido causa un golpe de presión. No deje caer la presión a nada, pues puede entrar agua sucia; la empresa decide qué se lava y se analiza. Cuente las vueltas. Abra despacio, y deje salir el aire.

## Excavaciones comparadas con marcas

hit_rate = { $near } de { $digs } a no más de un pie{ $verdict ->
    [too_few] {""}; muy pocas para comparar con lo que se dijo
    [as_stated] {" "}({ DECIMALS($low_percent, digits: 0) } a { DECIMALS($high_percent, digits: 0) } %), como se dijo ({ DECIMALS($stated_percent, digits: 0) } %)
    [more] {" "}({ DECIMALS($low_percent, digits: 0) } a { DECIMALS($high_percent, digits: 0) } %), más de lo que se dijo ({ DECIMALS($stated_percent, digits: 0) } %)
   *[less] {" "}({ DECIMALS($low_percent, digits: 0) } a { DECIMALS($high_percent, digits: 0) } %), menos de lo que se dijo ({ DECIMALS($stated_percent, digits: 0) } %)
}.

## Vigilancia

watch_begins = Se calcula { $job }. Después solo se calcula lo que cambie.
watch_waits = { $lines ->
    [one] 1 línea
   *[other] { $lines } líneas
}, { $worked } calculadas ahora. El mapa y las capas están en { $out }. Se espera la próxima vez que se guarde; Ctrl-C termina.
watch_line_gone = ya no está en el trabajo.
watch_says_the_same = Guardado; de cada línea se dice lo mismo.
watch_as_before = El trabajo está otra vez como antes; sus resultados están en { $out }.
watch_run_awaited = Se responde a lo guardado en cuanto termine esa ejecución.
watch_results_before = Los últimos resultados escritos están en { $out }.
watch_no_results = Todavía no hay nada calculado. Se espera a que se guarde otra vez; Ctrl-C termina.
watch_ended = Vigilancia terminada; los últimos resultados escritos están en { $out }.

## Lo que hacía más probables algunos lugares antes de escuchar

prior_fittings = { $count ->
    [one] 1 unión o accesorio
   *[other] { $count } uniones o accesorios
}
prior_past_leaks = { $count ->
    [one] 1 fuga pasada
   *[other] { $count } fugas pasadas
}
prior_repairs = { $count ->
    [one] 1 reparación
   *[other] { $count } reparaciones
}
prior_excavations = { $count ->
    [one] 1 excavación
   *[other] { $count } excavaciones
}
likelier_by = { JOIN($events) }{ $age ->
    [older] , y por ser más vieja que las tuberías con las que se une
    [newer] , y por ser más nueva que las tuberías con las que se une
   *[alike] { "" }
}
likelier_by_age = { $age ->
    [older] ser más vieja que las tuberías con las que se une
   *[newer] ser más nueva que las tuberías con las que se une
}
