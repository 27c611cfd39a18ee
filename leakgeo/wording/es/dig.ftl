# Impedimentos de una excavación, precauciones, y qué hacer con cada servicio cercano.

utility_name = { TERM($kind, kind: "utility") } { $utility } ({ $owner })
utility_in_row = en la fila { $row }
owner_not_known = propietario desconocido

## Impedimentos por un servicio

record_rejected = { $utility }: { record_rejected.short }
    .short = su registro fue rechazado y hay que corregirlo
no_utility_id = { $utility }: { no_utility_id.short }
    .short = no tiene utility_id
kind_not_known = { $utility }: { kind_not_known.short }
    .short = no se sabe de qué tipo es
owner_missing = { $utility }: { owner_missing.short }
    .short = no se sabe de quién es
width_not_known = { $utility }: { width_not_known.short }
    .short = no se conoce su ancho
shape_was_invalid = { $utility }: { shape_was_invalid.short }
    .short = su forma no era válida y hay que corregirla
quality_level_not_known = { $utility }: { quality_level_not_known.short }
    .short = no se conoce su nivel de calidad
position_not_known = { $utility }: { position_not_known.short }
    .short = no se conoce su posición (haga que lo localicen o lo descubran)
owner_not_notified = { $utility }: { owner_not_notified.short }
    .short = no se avisó a su propietario
no_answer = { $utility }: { no_answer.short }
    .short = su propietario no ha respondido
emergency_no_answer = { $utility }: { emergency_no_answer.short }
    .short = ticket de emergencia: no consta ni la respuesta de su propietario ni su presencia en el lugar
on_site_without_answer = { $utility }: { on_site_without_answer.short }
    .short = su propietario está en el lugar, lo que no es respuesta a un ticket ordinario (consiga sus marcas o su respuesta)
answer_not_understood = { $utility }: { answer_not_understood.short }
    .short = no se entiende la respuesta de su propietario
answer_time_not_known = { $utility }: { answer_time_not_known.short }
    .short = no se conoce la hora de la respuesta
mark_not_seen = { $utility }: { mark_not_seen.short }
    .short = consta como marcado, pero no consta ninguna marca dentro del área esperada (búsquela, o pregunte de nuevo)
private_not_marked = { $utility }: { private_not_marked.short }
    .short = es privado y ningún centro de llamada única lo marca (que lo marque su propietario o un localizador privado)
private_not_known = { $utility }: { private_not_known.short }
    .short = no se sabe si es privado, de modo que ningún centro de llamada única lo marque (ponga no o yes en la columna private)
no_ticket_number = { $utility }: { no_ticket_number.short }
    .short = su ticket no tiene número en el registro
notice_time_not_known = { $utility }: { notice_time_not_known.short }
    .short = no se conoce la hora de su aviso
answer_before_notice = { $utility }: { answer_before_notice.short }
    .short = su respuesta es anterior a su aviso
notice_short = { $utility }: { notice_short.short }
    .short = a su aviso le faltan { $days } días laborables completos antes de excavar
ticket_expired = { $utility }: { ticket_expired.short }
    .short = su ticket pasa de su vigencia de { $days } días
dated_after_dig = { $utility }: { dated_after_dig.short }
    .short = su aviso o su respuesta tiene fecha posterior a la excavación
inside_tolerance_zone = { $utility }: { inside_tolerance_zone.short }
    .short = la excavación está dentro de su zona de tolerancia (solo a mano o con vacío, y descúbralo primero)
inside_tolerance_zone_by_records = { $utility }: { inside_tolerance_zone_by_records.short }
    .short = la excavación está dentro de su zona de tolerancia según los registros ({ $answered ->
        [yes] pregunte de nuevo a su propietario
       *[no] pregunte a su propietario
    })
inside_caution_zone = { $utility }: { inside_caution_zone.short }
    .short = la excavación está dentro de su zona de precaución (a mano o con vacío hasta descubrirlo)

## Impedimentos de la excavación entera

not_located = la fuga no está localizada en esta línea (siga escuchando): el resultado es un tramo donde buscar, no un lugar donde excavar
    .brief = fuga no localizada
line_not_placed = la línea no está puesta sobre el terreno, así que la marca es solo una distancia con cinta a lo largo del tubo: no se pudo calcular hoyo, servicios ni solicitud de localización (dibuje la línea, o dé las posiciones de dos de sus accesorios)
    .brief = línea sin poner sobre el terreno
hole_not_drawn = no se conoce el lugar o el error de la marca, así que no se pudo dibujar la excavación
    .brief = excavación sin dibujar
error_longer_than_hole = el error del 95 % de la marca es más largo que la excavación más larga permitida (siga escuchando)
    .brief = error más largo que la excavación
cover_not_known = no se conoce la cobertura sobre la tubería (mídala)
    .brief = cobertura desconocida
no_utility_on_record = no consta ningún servicio cerca de la excavación, y ningún propietario ha respondido por ella: que nada conste no significa que no haya nada (ponga la respuesta de cada propietario en utilities)
    .brief = ningún propietario respondió
no_utilities_layer = no hay capa utilities: los datos que faltan detienen la excavación y no autorizan nada
    .brief = sin capa de servicios
no_utilities_rows = la capa utilities no tiene filas: los datos que faltan detienen la excavación y no autorizan nada
    .brief = capa de servicios vacía
utilities_without_position = { $records } registros de servicios no tienen posición utilizable y podrían estar en cualquier parte (corríjalos)
    .brief = servicios sin posición
ticket_not_checked = sin comprobar: aviso y vigencia de los tickets de localización (falta: { JOIN($lacks, by: ", ", kind: "ticket") })
    .brief = ticket sin comprobar
mark_lacks = a la marca le falta { $column }
    .brief = a la marca le falta { $column }
line_under_pressure = la línea está bajo presión (ciérrela, o que decida la persona a cargo)
    .brief = línea bajo presión
pressure_not_known = no se conoce la presión de la línea (considérela bajo presión)
    .brief = presión desconocida
air_in_line = se inyectó aire en la línea (purgue, y compruebe que quede en reposo)
    .brief = aire en la línea

## Precauciones

dig_deep = { LENGTH($depth_m, round: "up") } de profundidad: a { LENGTH(1.524) } o más, 29 CFR 1926.652(a)(1) exige un sistema de protección, salvo que la excavación esté toda en roca estable
dig_shallow = { LENGTH($depth_m, round: "up") } de profundidad: a menos de { LENGTH(1.524) } una persona competente examina el terreno, y ante cualquier señal de derrumbe se exige un sistema de protección (29 CFR 1926.652(a)(1))
dig_depth_unknown = no se conoce la profundidad: cuente con necesitar un sistema de protección (29 CFR 1926.652(a)(1))
depth_on_record = la profundidad es la de la cobertura registrada: sondee antes de confiar en ella
depth_by_ground = la profundidad es la del modelo del terreno menos la Z de la tubería, tomada como la de su corona: sondee antes de confiar en ella
covers_differ = el modelo del terreno menos la Z de la tubería da una cobertura de { LENGTH($by_ground_m) }, y el registro { LENGTH($on_record_m) }: cuente con cualquiera de las dos
spoil = deje la tierra a { LENGTH($back_m) } o más del borde (29 CFR 1926.651(j)(2))
under_pressure = la línea está bajo presión si no se cerró: sepa qué válvula la cierra
pressure_unknown = no se conoce la presión de la línea: considérela bajo presión
vent_air = se inyectó aire en la línea al escuchar: purgue
other_pipes_unknown = una cinta no muestra qué tubos corren al lado de esta línea o se unen a ella: el sonido puede venir de uno de ellos, así que escuche también a lo largo de esos
trace_assumed_straight = la línea se supone recta entre dos de sus accesorios: puede apartarse del hoyo, así que hágala localizar primero
direction_unknown = no se conoce la dirección de la tubería: la excavación se dibuja redonda
void_under_pavement = una fuga puede haber socavado el terreno bajo el pavimento: sondee en busca de huecos, y no deje pasar vehículos ni personas salvo que la persona competente decida otra cosa (práctica común); no se puede socavar pavimento sin un soporte u otra protección contra su derrumbe (29 CFR 1926.651(i)(3))
traffic = la marca está sobre una vía pavimentada, quizá una calle: disponga el control de tráfico que exija la autoridad de la vía, y lleve ropa de alta visibilidad donde pase tráfico público (29 CFR 1926.651(d))
ground_cover_unknown = no se conoce la superficie en la marca: donde haya pavimento, cuente con huecos debajo; donde haya una calle, cuente con tráfico y disponga el control que exija su autoridad (práctica común)
water_logged = cuente con terreno saturado de agua junto a una fuga: nadie trabaja en una excavación donde hay agua o se acumula si no se toman precauciones adecuadas contra ella (29 CFR 1926.651(h)(1)), y el suelo sumergido o del que brota agua libremente es de tipo C (29 CFR 1926 Subpart P, Appendix A)
bond_metal = la tubería es de metal y puede llevar corriente, pues la instalación eléctrica de un edificio puede estar conectada a tierra por ella (NFPA 70, 250.52(A)(1)): antes de cortarla o separarla, o de quitar un medidor, que alguien con licencia puentee el hueco según el código local, y trate la tubería como energizada antes y después (práctica común)
asbestos_cement = la tubería es de asbesto-cemento: una persona competente en asbesto clasifica el trabajo, y solo personas capacitadas para ello la cortan o la rompen (29 CFR 1926.1101); si la tubería se desmorona o se tritura, puede aplicarse 40 CFR 61, Subpart M; la ley local puede exigir licencia, y rige cómo se desecha
pipe_material_unknown = no se conoce el material de la tubería: hasta verla, trátela como metal que puede llevar corriente y como asbesto-cemento, y que decidan personas con licencia antes de cortarla (práctica común)
confined_space = las válvulas y los medidores de esta línea pueden estar en una cámara o un foso, que puede ser un espacio con permiso: antes de empezar el trabajo, una persona competente determina si lo es (29 CFR 1926.1203(a)); hasta entonces trátelo como tal (práctica común)
hearing = protéjase los oídos al escuchar aquí: baje la ganancia antes de mover el sensor y antes de dar el aire (práctica común; límites de ruido: 29 CFR 1926.52)
emergency_ticket = { $utilities ->
    [one] 1 servicio se avisó
   *[other] { $utilities } servicios se avisaron
} con un ticket de emergencia, cuyo plazo de aviso no se comprueba: la ley local y el centro de llamada única deciden qué es una emergencia, y qué exige antes de excavar
oldest_answer = la respuesta más antigua es del { DAY($date) } (UTC): compruebe que el ticket siga vigente
ticket_runs_out = el primer ticket de aquí vence al final del { DAY($date) }
in_caution_zone = { $utilities } servicios dentro de la zona de precaución de { LENGTH($caution_m) }
own_tolerance_less = { $utilities } servicios indican una tolerancia propia menor que la de la regla: use el más ancho de los dos
ask_private = las líneas detrás de un medidor, en un campus o un lote, a menudo no tienen marcas: pregunte al propietario del terreno, y haga que lo compruebe un localizador privado
rule_in_force = regla de tolerancia { $rule } ({ $source }; { DAY($date) }): rigen la ley local y el centro de llamada única, y esta lista nunca autoriza una excavación

## Qué hacer con un servicio cerca de la excavación

action_inside_tolerance = Descúbralo a mano o con vacío antes de excavar nada más; ninguna herramienta mecánica dentro de su zona de tolerancia.
action_near = Mantenga las herramientas mecánicas fuera de su zona de tolerancia, y esté atento a él.
action_unknown_position = Que su propietario lo localice, o descúbralo a mano o con vacío, antes de excavar nada más.
utility_depth_unknown = No se conoce su profundidad: cuente con él a cualquier profundidad.
utility_depth = Su registro dice { LENGTH($depth_m) } de profundidad: no confíe en ello.
utility_below_hole = Su registro dice { LENGTH($depth_m) } de profundidad, { LENGTH($gap_m) } por debajo de la excavación: no confíe en ello.
utility_within_hole = Su registro dice { LENGTH($depth_m) } de profundidad, dentro de la profundidad de la excavación: no confíe en ello.
