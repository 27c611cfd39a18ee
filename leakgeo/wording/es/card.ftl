# La ficha de una línea: qué detiene la excavación, dónde está el lugar y qué hacer después.

## Lugar, como lo mide una cuadrilla

taped_place = a { LENGTH($by_m) } desde { $fitting } hacia { $toward }
at_fitting = en { $fitting }
fitting = { TERM($kind, kind: "fitting") } { $contact }
fitting_alone = { $contact }
trace_start = inicio del trazado
trace_end = final del trazado
trace_bend = quiebre { $number } del trazado
start_of_route = el inicio del trazado
end_of_route = el final del trazado

## Qué detiene la excavación

held_by = { JOIN($what, by: "; ") }
more_utilities = { $utilities ->
    [one] 1 servicio más
   *[other] { $utilities } servicios más
}
held_by_paperwork = los tickets no están completos
in_the_way = { TERM($kind, kind: "hazard") } { $where }
in_the_way_and = { TERM($kind, kind: "hazard") } { $where }, { $why }
in_the_hole = en el hoyo
at_the_hole = junto al hoyo, dentro de su zona de tolerancia
near_the_hole = cerca del hoyo
position_unknown = de posición desconocida
card_owner_not_notified = propietario no avisado
card_no_answer = el propietario no ha respondido
card_emergency_no_answer = ticket de emergencia: el propietario no ha respondido ni está en el lugar
card_on_site_without_answer = el propietario está en el lugar, pero no ha respondido
card_answer_not_understood = respuesta no entendida
card_mark_not_seen = su marca no se ha visto
card_private_not_marked = privado y sin marcar
card_private_not_known = no se sabe si es privado
card_ticket_expired = ticket vencido
card_notice_short = aviso con poca antelación
card_answer_before_notice = respuesta anterior al aviso
card_dated_after_dig = respuesta fechada después de la excavación
card_record_rejected = registro defectuoso
card_line_not_placed = { line_not_placed.brief }
card_hole_not_drawn = { hole_not_drawn.brief }
card_error_longer_than_hole = { error_longer_than_hole.brief }
card_cover_not_known = { cover_not_known.brief }
card_no_utility_on_record = { no_utility_on_record.brief }
card_no_utilities_layer = { no_utilities_layer.brief }
card_no_utilities_rows = { no_utilities_rows.brief }
card_utilities_without_position = servicios sin posición
card_mark_lacks = faltan datos de la marca
card_line_under_pressure = { line_under_pressure.brief }
card_pressure_not_known = { pressure_not_known.brief }
card_air_in_line = { air_in_line.brief }

## Motivos resumidos de una línea

utility_in_short = { TERM($kind, kind: "hazard") } { $utility }
utility_lacks = { utility_in_short } ({ JOIN($lacks, by: ", ") })
lacks_ticket_number = número del ticket
lacks_notice_time = hora del aviso
lacks_answer_time = hora de la respuesta
tickets_incomplete = Tickets incompletos para: { JOIN($utilities, by: "; ") }
    .brief = tickets incompletos
records_incomplete = Registros incompletos para: { JOIN($utilities, by: "; ") }
    .brief = registros incompletos

## Qué hacer después

do_listen_on = siga escuchando: esto es un tramo por buscar, no un hoyo.
do_for_notify_owner = avise al propietario de { TERM($kind, kind: "hazard") } ({ $utility }) por el centro de llamada única.
do_ask_owners = obtenga la respuesta de cada propietario por el centro de llamada única.
do_for_get_answer = obtenga la respuesta del propietario de { TERM($kind, kind: "hazard") } ({ $utility }).
do_for_renew_ticket = renueve el ticket de localización para { TERM($kind, kind: "hazard") } { $utility }.
do_for_wait_for_notice = espere a que el aviso al propietario de { TERM($kind, kind: "hazard") } ({ $utility }) tenga la antelación debida.
do_for_private_locator = haga que el propietario o un localizador privado marque { TERM($kind, kind: "hazard") } { $utility }.
do_for_find_mark = busque en el suelo la marca de { TERM($kind, kind: "hazard") } { $utility }, o pregunte otra vez al propietario.
do_for_have_located = haga localizar { TERM($kind, kind: "hazard") } { $utility }, o descubrirlo a mano o con vacío.
do_for_correct_record = corrija el registro de { TERM($kind, kind: "hazard") } { $utility }.
do_correct_records = corrija los registros de servicios sin posición: podrían estar en cualquier parte.
do_for_check_ticket = compruebe el ticket de { TERM($kind, kind: "hazard") } { $utility }: su número, su aviso y su vigencia.
do_check_ticket = compruebe el ticket de localización: su número, su aviso y su vigencia.
do_place_line = ponga la línea sobre el terreno: dibújela, o dé las posiciones de dos de sus accesorios.
do_probe_depth = sondee a qué profundidad está el tubo.
do_shut_line = haga cerrar la línea y soltar la presión, o que decida la persona a cargo.
do_vent_line = purgue el aire de la línea.
do_for_expose = descubra { TERM($kind, kind: "hazard") } { $utility } a mano o con vacío antes de excavar lo demás.
do_correct_mark = complete los datos de la marca.
no_hold_on_record = que decida la persona a cargo de la excavación; nada registrado la detiene.

## Ficha

card_hold = DETENIDA
card_next = Después
card_caution = Nada aquí autoriza la excavación.
card_every_dig = Toda excavación
