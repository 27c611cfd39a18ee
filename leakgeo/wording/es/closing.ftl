# La excavación que se cierra: faltas, lo que se cree ahora, y el registro.

closing_leak_outside = La fuga, a { LENGTH($at_m) }, está fuera de la tubería que se vio, { SPAN($from_m, $to_m) }.
    .remedy = Corrija uno de ellos.
closing_far_from_mark = La fuga está registrada a { LENGTH($off_m) } de la marca que se excavó.
    .remedy = Revise la línea, el accesorio y la dirección de la cinta; corrija un lugar erróneo con un registro que sustituya a este.
closing_repair_without_leak = Se indica una reparación, y ninguna fuga.
    .remedy = Indique la fuga como encontrada, u omita la reparación.
closing_place_missing = Falta el lugar de la fuga.
    .remedy = Dé at: su lugar desde un accesorio, o a lo largo de la línea.
closing_exposed_missing = Falta la tubería que se vio seca.
    .remedy = Dé exposed: sus dos extremos.
closing_meter_incomplete = A la prueba del medidor le falta { JOIN($lacking, by: ", ") }.
    .remedy = Dé inicio, fin, minutos y unidad, o ninguno de ellos.
closing_no_minutes = No pasó tiempo entre las dos lecturas del medidor.
    .remedy = Dé los minutos entre ellas.
closing_photo_missing = No existe la foto { $value }.
    .remedy = Compruebe su ruta.
closing_photo_name = El nombre de la foto { $value } tiene un punto y coma, que separa nombres.
    .remedy = Cámbiele el nombre.
closing_record_unknown = El trabajo no tiene el registro { $value }.
    .remedy = Dé el dig_id del registro que se corrige.
closing_record_unknown_like = El trabajo no tiene el registro { $value } (parecidos: { JOIN($like, by: ", ") }).
    .remedy = Dé el dig_id del registro que se corrige.
closing_record_of_other_line = Ese registro es de la línea { $line }.
    .remedy = Dé un registro de esta línea.

closed_nothing = No hay ninguna excavación registrada en esta línea.
closed_dry = La tubería se vio seca{ $where ->
    [span] {" "}a { SPAN($from_m, $to_m) }
   *[unknown] {""}
}: la fuga está en otro lugar, si la hay.
closed_not_reached = La excavación no llegó a la tubería: no muestra nada de la fuga.
closed_not_repaired = Se vio una fuga{ $where ->
    [at] {" "}a { LENGTH($at_m) }
    [span] {" "}a { SPAN($from_m, $to_m) }
   *[unknown] {""}
}, y no está reparada: sigue allí.
closed_repaired = La fuga{ $where ->
    [at] {" "}a { LENGTH($at_m) }
    [span] {" "}a { SPAN($from_m, $to_m) }
   *[unknown] {""}
} se reparó el { DAY($day) }. Lo que se escuchó antes ya no cuenta.
closed_stands_still = Después el medidor estuvo quieto durante { FIGURES($minutes) } minutos: no se muestra pérdida.
closed_still_turns = Después el medidor siguió girando, { LITRES($loss_l) } al día: hay otra fuga, o se usa agua.
closed_walk_again = Recorra la línea de nuevo.
closed_read_meter = No se ha medido nada desde entonces: lea el medidor dos veces, sin usar agua.
closed_run_again = Los resultados hechos antes (lista, mapa, informe) aún muestran la marca: procese el trabajo de nuevo, con --update o con --overwrite.

record_title = Registro de una excavación
record_time = Cuándo
record_crew = Cuadrilla
record_leak_at = Fuga
record_along = a lo largo de la línea
record_exposed = Tubería vista
record_repaired = Reparada
record_cause = Causa
record_before = Medidor antes
record_after = Medidor después
record_mark = Marca excavada
record_off_mark = De la marca a la fuga
record_run = Ejecución
record_photos = Fotos
record_note = Nota
record_supersedes = Corrige el registro
record_superseded_by = Corregido por
record_yes = sí
record_no = no
record_leak = una fuga
record_dry = tubería seca, sin fuga
record_pipe_not_reached = no se llegó a la tubería
record_unknown = no registrado
record_start = inicio
record_end = final
record_the_leak = fuga
record_the_mark = marca
record_toward_start = hacia el inicio del trazado
record_toward_end = hacia el final del trazado
record_not_scaled = Croquis a lo largo de la tubería, a escala; longitudes desde el inicio del trazado.
record_page_written = página escrita { DAY($at) }
record_superseded = El registro { $by } corrige este: ya no cuenta.
record_caution = Registro de lo que se vio. No dice nada de otras tuberías y cables: antes de volver a excavar, haga marcar el terreno, cumpla la ley local, y deje que decidan personas con licencia.
record_signed_crew = Cuadrilla (nombre, firma, fecha)
record_signed_utility = Recibido por la empresa (nombre, firma, fecha)
record_turned = giró, { $loss } en { FIGURES($minutes) } minutos el { DAY($day) }
record_stood = quieto durante { FIGURES($minutes) } minutos el { DAY($day) }
