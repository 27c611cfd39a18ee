# Códigos del contrato de datos, y las palabras de las cantidades.

unknown = desconocido
percent_over_99 = más de 99 %
percent_under_1 = menos de 1 %
unit_litres = litros
unit_gallons = galones
range_to = a
range_about = unos
one_foot = un pie
odds_in = de cada
odds_over = más de
odds_under = menos de

status_located = Marca puesta
status_keep_listening = Seguir escuchando
status_ambiguous = Varios lugares posibles
status_other_source = Suena otra fuente
status_beyond_end = Más allá del final de la línea
status_no_leak_heard = No se oyó ninguna fuga
status_not_listened_to = Sin escuchar
status_rejected = Sin calcular

limit_sound = el sonido limita el error: ruido de fondo, o una fuga que no es fuerte
limit_position = posiciones de las lecturas poco precisas para un error menor: mida los puntos con cinta
limit_spacing = lecturas demasiado separadas para un error menor: escuche entre ellas
limit_trace = los barridos transversales suenan más fuerte al lado del trazado: vuelva a trazar la tubería
limit_shape = nivel distinto del de una sola fuga: escuche a ambos lados de la tubería, y con otro sensor

severity_inside_tolerance = dentro de la zona de tolerancia
severity_near = cerca
severity_unknown_position = posición desconocida

rule_on_record = tolerancia de su registro
rule_case_single_mark = una sola marca
rule_case_size_marked = tamaño marcado
rule_case_size_assumed = tamaño supuesto
rule_case_outside_marks = marcas del borde

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

# Parámetros de los tickets de localización, como los conoce la gente de la obra.
ticket_dig_date = el día de la excavación
ticket_notice_days = el plazo de aviso
ticket_validity_days = la vigencia de los tickets
ticket_holidays = los días festivos

as_given = { $text }
    .remedy = { $remedy }

# Utilities in a headline: those that can kill in capitals.
hazard_electric = ELECTRICIDAD
hazard_gas_oil_steam = { utility_gas_oil_steam }
hazard_gas = { utility_gas }
hazard_oil = { utility_oil }
hazard_steam = { utility_steam }
hazard_communications = { utility_communications }
hazard_potable_water = { utility_potable_water }
hazard_reclaimed_water = { utility_reclaimed_water }
hazard_sewer_drain = { utility_sewer_drain }
hazard_unknown = { utility_unknown }
hazard_utility = { utility_utility }

# Accesorios.
fitting_hydrant = hidrante
fitting_hose_bib = grifo de manguera
fitting_meter = medidor
fitting_main_valve = válvula de la red
fitting_curb_stop = llave de acera
fitting_sink = fregadero
fitting_water_heater = calentador
fitting_pressure_reducing_valve = válvula reductora de presión
fitting_pump = bomba
fitting_backflow_preventer = válvula antirretorno
fitting_stop_valve = llave de paso
fitting_other = otro accesorio
fitting_fitting = accesorio

# Acciones siguientes, en breve.
step_listen = Escuche en los puntos de la lista de abajo
step_walk_on = Siga hasta los puntos de la lista de abajo
step_sweep = Barra la línea en transversal
step_listen_beyond = Escuche en los accesorios más allá
step_read_meter = Que el propietario cierre la válvula de la casa, y lea el medidor
step_close_valve = Que el personal del propietario cierre válvulas, y vea si la pérdida sigue
step_air = Escuche con aire inyectado y sin él
step_trickle = Abra un grifo a un hilo de agua, y escuche
step_night = Escuche de nuevo tarde por la noche
step_look_inside = Busque agua que corra en el edificio
step_shut_fitting = Haga que su propietario cierre o desvíe
step_find_source = Averigüe qué más suena
step_trace_again = Vuelva a trazar la tubería
step_probe = Escuche de nuevo con una varilla clavada, tras marcar todos los servicios
step_tape = Mida los puntos con cinta desde un accesorio conocido
step_pressure = Haga subir la presión dentro de la nominal

# Una pérdida de agua.
per_day_litres = litros al día
per_day_gallons = galones al día
