# Lo que la terminal imprime alrededor de los textos de un resultado.

terminal_caution = Nada aquí autoriza una excavación: deciden la ley local, el centro de llamada única y personas habilitadas.
terminal_caution_where = Lo que aún detiene cada excavación está en el mapa, el informe y summary.csv.
terminal_no_stretch = Ningún tramo que recorrer primero: ningún accesorio suena más fuerte que los demás.
terminal_no_air_test = Ninguna prueba de aire: no se tomó ninguna lectura con aire y sin él en un mismo lugar.
terminal_no_inlets = Ninguna prueba por pasos: nombre las entradas del sector con --inlets.
terminal_results = Los resultados están en { $out }.
terminal_more_lines = ... y { $more } líneas más, todas en summary.csv.
terminal_total = { tally_lines }: { $counts }. { terminal_results }
terminal_check_prints = ... y { $more } más; leakgeo check las imprime todas.
terminal_all_faults = ... y { $more } más, todas en faults.csv.
terminal_updated = Calculadas { $worked } de { tally_lines }; las demás no habían cambiado.
mark_of_line = { $line }, marca { $rank }
terminal_digs = Excavaciones: { $message }
terminal_town = Un pueblo simulado, con la semilla { $seed }, está en { $job }.
terminal_rows = { $layer }: { $rows } leídas
terminal_checked = { $rejected ->
    [one] 1 defecto
   *[other] { $rejected } defectos
} con filas omitidas; { $noted ->
    [one] 1 nota
   *[other] { $noted } notas
}. No se cambió nada.
terminal_recorded = El registro { $dig } está en { $job }. Su página: { $page }; todos los registros: { $table }.
effect_rejected = rechazado
effect_noted = anotado
effect_stops = detiene
terminal_see_help = { $text } Vea: { $command } --help
