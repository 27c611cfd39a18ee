isolated_flow_rises = El caudal subió después de cerrar las válvulas, a { $value }: esta prueba de aislamiento no muestra nada.
    .remedy = Corrija before y after si están intercambiados; si no, busque qué consumía agua, y repita la prueba.
valve_off_line = La válvula está a { LENGTH($off_m) } de { $line }, la línea que nombra su line_id: allí no corta nada.
    .remedy = Corrija su posición o su line_id.
valve_off_network = La válvula está a { LENGTH($off_m) } de la línea más cercana: no corta nada.
    .remedy = Corrija su posición, o añada la línea en que está.
shut_fitting_not_named = No se nombra el accesorio que se cerró: este resultado no muestra nada.
    .remedy = Dé su contact_id.
shut_fitting_off_line = El accesorio que se cerró, { $value }, no está en esta línea: este resultado no muestra nada de ella.
    .remedy = Corrija contact_id o line_id, o la posición del accesorio.
end_not_named = No se nombra el extremo más allá del cual se escuchó, ni un accesorio en un extremo: este resultado no muestra nada.
    .remedy = Ponga start o end en beyond, o dé el contact_id de un accesorio en ese extremo.
tape_without_unit = Su cinta es un número sin unidad: { $value }.
    .remedy = Escriba la unidad al lado, como en 38' 6" o 11.7 m, o rellene tape_unit.
tape_not_a_length = Su cinta no es una longitud: { $value }.
    .remedy = Escríbala como 38' 6" (pulgadas menores de 12), 38.5 ft o 11.7 m.
route_without_geometry = No tiene geometría, y ninguno de sus accesorios tiene longitud con cinta.
    .remedy = Dibújela, o dé sus accesorios en contacts, cada uno con la longitud medida desde el anterior; quite la fila si no es una línea.
fitting_without_geometry = No tiene geometría, y ninguna lista con cinta lo sitúa.
    .remedy = Dibújelo, o dé la longitud medida desde el accesorio anterior.
tape_contradicts_chainage = Su cinta, { $value }, y su chainage_m difieren.
    .remedy = Corrija uno de los dos, u omita chainage_m: la cinta basta.
dig_elsewhere = La excavación está a { LENGTH($point_m) } por su línea, y su registro dice { LENGTH($at_m) }, que es lo que se usa.
    .remedy = Corrija lo que esté mal. Las distancias van en metros desde el primer vértice del trazado.
dig_chainage_in_feet = La excavación está a { LENGTH($point_m) } por su línea, y su registro dice { DECIMALS($number, digits: 2) } m, que son { LENGTH($at_m) } y es lo que se usa. En pies coincidiría con la excavación.
    .remedy = Escríbalo en metros, o corrija la posición de la excavación.
leak_beyond_route = leak_chainage_m, { ABOUT($to_m) }, está más allá del final de su línea, a { ABOUT($route_m) }; se usa la posición de la excavación.
    .remedy = Mida desde el primer vértice del trazado, en metros, o invierta el trazado en el SIG.
leak_outside_exposed = leak_chainage_m está fuera de la tubería que se vio, de exposed_from_m a exposed_to_m: { $value }.
    .remedy = Corrija uno de ellos.
dig_without_place = No tiene posición ni distancia a lo largo de la línea: no muestra nada de dónde estaba la fuga.
    .remedy = Rellene leak_chainage_m, o exposed_from_m y exposed_to_m.
superseded = El registro { $by } lo corrige: se conserva, y no se usa.
    .remedy = Nada, salvo que { $by } sea incorrecto.
supersedes_in_circle = Se corrige a sí mismo a través de { $value }: no se omite ninguno.
    .remedy = Vacíe supersedes del registro más antiguo.
undated_since_repair = No tiene hora, y la fuga de esta línea se reparó el { $day }: puede ser de antes, y no se usa.
    .remedy = Rellene time si es de después de la reparación; si no, escuche de nuevo.
list_tape_negative = Su cinta desde el accesorio anterior es negativa: { $value }. La lista de su línea no se usa.
    .remedy = Escriba la longitud a lo largo del tubo desde el accesorio anterior, y dé el orden en seq.
list_tape_missing = A la lista de su línea le falta la longitud desde el accesorio anterior, así que no se usa.
    .remedy = Mida con cinta desde el accesorio anterior a lo largo del tubo; si no está en el camino, numere solo los otros en seq.
list_order_missing = Otros accesorios de su línea tienen su orden en seq, y este no. La lista de su línea no se usa.
    .remedy = Numere todos los accesorios de la lista, o ninguno.
list_order_repeated = Dos accesorios de su línea tienen el mismo seq. La lista de su línea no se usa.
    .remedy = Numérelos en el orden en que están a lo largo del tubo.
list_of_one = Está solo en la lista de su línea: un accesorio no da longitud.
    .remedy = Añada el siguiente accesorio con la longitud hasta él.
list_too_long = La lista de su línea mide { FAR($length_m) }, y esta es su longitud mayor. La lista no se usa.
    .remedy = Escriba la longitud como se midió con cinta, y revise su unidad.
list_without_length = Todas las longitudes de la lista de su línea son 0.
    .remedy = Mida con cinta de accesorio a accesorio a lo largo del tubo.
list_starts_with_length = Es el primero de su línea y tiene una longitud desde un accesorio anterior: ¿es la longitud hasta el siguiente? La lista de su línea no se usa.
    .remedy = Escriba cada longitud en el accesorio hasta el que llegó la cinta, y déjela vacía en el primero.
list_not_used = No tiene posición, y la lista de su línea no la pone en ningún lugar.
    .remedy = Corrija la lista, o ponga el accesorio en el plano.
list_beyond_route = La lista con cinta lo pone más allá del final de la ruta dibujada, que mide { LENGTH($route_m) }.
    .remedy = Corrija las longitudes o la ruta, o ponga el accesorio en el plano.
list_and_route_differ = Su lista con cinta mide { LENGTH($taped_m) }, y su ruta dibujada { LENGTH($route_m) }; las distancias con cinta se usan a lo largo de la ruta.
    .remedy = Mire cuál es correcta: la lista puede empezar en el otro extremo, o la ruta puede estar incompleta.
taped_list_unusable = No tiene geometría, y su lista de accesorios con cinta no se puede usar.
    .remedy = Corrija la lista en contacts, o dibuje la línea.
line_by_tape_alone = No tiene geometría; se calcula a lo largo de su lista con cinta, que mide { LENGTH($length_m) }, y no se pone sobre el terreno: sin mapa, sin coordenadas, y toda excavación en espera.
    .remedy = Dibújela con el mismo line_id, o dé las posiciones de dos de sus accesorios.
line_assumed_straight = Se supone recta entre { JOIN($ends) }, que tienen posición; el error de su traza se toma como { LENGTH($sd_m) }, el de las posiciones y el de la curva que permite su longitud con cinta.
    .remedy = Dibuje la línea donde tuerce, con el mismo line_id: las distancias con cinta corren entonces a lo largo de ella.
positions_contradict_tape = Dos de sus accesorios están a { LENGTH($apart_m) } por sus posiciones, y a { LENGTH($taped_m) } por la cinta: la línea no se pone sobre el terreno.
    .remedy = Corrija las posiciones o las longitudes.

sheet_as_layer = { $sheet } como { $layer }
sheets_are_layers = Las hojas se leen como capas: { JOIN($sheets) }.
sheet_filled_down = { $cells ->
    [one] 1 celda vacía se toma
   *[other] { $cells } celdas vacías se toman
} como la de arriba, en la misma línea: { JOIN($columns) }.
    .remedy = Nada, si se dejaron vacías por ser iguales; si no, rellénelas. La palabra start significa el comienzo de la línea.
sheet_stops_named = { $stops ->
    [one] 1 parada sin nombre propio se nombra
   *[other] { $stops } paradas sin nombre propio se nombran
} por su línea, y por su recorrido o su fila donde eso no basta.
sheet_totals_left_out = Las filas de totales se omiten: { JOIN($rows) }.
    .remedy = Nada, salvo que la palabra sea el nombre de una línea o de un accesorio: entonces dele otro nombre.
sheet_words_as_codes = Las palabras se leen como códigos: { JOIN($words) }.
    .remedy = Nada, si son correctos; si no, escriba el código que corresponde.
sheet_days_without_hour = { $cells ->
    [one] 1 hora es un día sin hora, y se toma
   *[other] { $cells } horas son días sin hora, y cada una se toma
} como su medianoche en UTC: { JOIN($columns) }.
    .remedy = Escriba las horas como texto con su zona, como en 2026-05-03T06:10-04:00. Si las celdas muestran una hora, su formato la oculta: deles formato de texto.
respelled = { $was } como { $now }
sheet_respelled = Los nombres que solo difieren en mayúsculas, espacios o guiones se leen como en su propia hoja: { JOIN($names) }.
    .remedy = Nada, salvo que sean dos cosas: entonces dé nombres que difieran más.
sheet_not_degrees = Las longitudes o latitudes que no son números se omiten: { JOIN($values) }.
    .remedy = Dé grados decimales, como -83.0458.
lines_by_condition = La condición { $condition } selecciona { $lines ->
    [one] una línea
   *[other] { $lines } líneas
}; del resto del trabajo solo se leyó lo que hay alrededor, con { $others } trazados más.
    .remedy = Nada. Los errores de otras líneas se indican al revisar todo el trabajo.

## Resultados leídos de nuevo

result_superseded = Este resultado, de la ejecución { $run }, escrito { $written }, fue sustituido por la ejecución { $by }, escrita { $at }: no se puede excavar según él.
    .remedy = Use el resultado que lo sustituyó, que tampoco autoriza ninguna excavación.
