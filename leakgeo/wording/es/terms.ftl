# Códigos del contrato de datos, y palabras con que se dicen cantidades.

unknown = desconocido
percent_over_99 = más de 99 %
percent_under_1 = menos de 1 %
unit_litres = litros
unit_gallons = galones
range_to = a
range_about = unos
one_foot = un pie

status_located = Marca puesta
status_keep_listening = Seguir escuchando
status_ambiguous = Varios lugares posibles
status_other_source = Suena otra fuente
status_beyond_end = Más allá del final de la línea
status_no_leak_heard = No se oyó ninguna fuga
status_not_listened_to = Sin escuchar
status_rejected = Sin calcular

limit_sound = lo limita el sonido: repita a una hora tranquila
limit_position = lo limitan las posiciones de las lecturas
limit_spacing = lo limita la separación entre lecturas

severity_inside_tolerance = dentro de la zona de tolerancia
severity_near = cerca
severity_unknown_position = posición desconocida

utility_electric = electricidad
utility_gas_oil_steam = GAS, PETRÓLEO o VAPOR
utility_gas = GAS
utility_oil = PETRÓLEO
utility_steam = VAPOR
utility_communications = comunicaciones
utility_potable_water = agua potable
utility_reclaimed_water = agua reciclada
utility_sewer_drain = alcantarillado o drenaje
utility_unknown = tipo desconocido
utility_utility = servicio

as_given = { $text }
    .remedy = { $remedy }
