<?xml version="1.0" encoding="utf-8"?>
<!DOCTYPE TS>
<TS version="2.1" language="es" sourcelanguage="en">
    <context>
        <name>leakgeo</name>
        <message>
            <location filename="../asking.py" />
            <source>leakgeo stopped. It starts again when it is asked.</source>
            <translation>leakgeo se detuvo. Arranca otra vez cuando se le pregunta.</translation>
        </message>
        <message>
            <location filename="../asking.py" />
            <source>leakgeo {version} answers in format {format}, and this plugin reads format {known}. Build the plugin of that version.</source>
            <translation>leakgeo {version} responde en el formato {format}, y este complemento lee el formato {known}. Genere el complemento de esa versión.</translation>
        </message>
        <message>
            <location filename="../asking.py" />
            <source>{program} can't be started.</source>
            <translation>No se puede iniciar {program}.</translation>
        </message>
        <message>
            <location filename="../asking.py" />
            <source>It ended with exit code {code}.</source>
            <translation>Terminó con el código de salida {code}.</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>{name}: {count} of the layers can't be opened. Choose them again.</source>
            <translation>{name}: no se pueden abrir {count} de las capas. Elíjalas otra vez.</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>{name}: the layer {layer} has no CRS. Set it in the properties of the layer, under Source.</source>
            <translation>{name}: la capa {layer} no tiene SRC. Asígnelo en las propiedades de la capa, en Fuente.</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>{name}: the layer can't be exported ({error}).</source>
            <translation>{name}: no se puede exportar la capa ({error}).</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>{name}: the layer {layer} can't be opened. Choose another one.</source>
            <translation>{name}: no se puede abrir la capa {layer}. Elija otra.</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>{name}: feature {feature} of {layer} can't be exported ({error}).</source>
            <translation>{name}: no se puede exportar el objeto {feature} de {layer} ({error}).</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>{name}: {first} is in {crs}, and {second} in {other}. Reproject one, so that both have the same CRS.</source>
            <translation>{name}: {first} está en {crs}, y {second} en {other}. Reproyecte una, para que las dos tengan el mismo SRC.</translation>
        </message>
        <message>
            <location filename="../job_export.py" />
            <source>mapping: {table} comes from several layers, but the plugin exports one. Merge them first, or run leakgeo on the source file on the command line.</source>
            <translation>mapping: {table} viene de varias capas, pero el complemento exporta una. Únalas antes, o ejecute leakgeo con el archivo de origen en la línea de órdenes.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Choose a job file, or layers for {names}.</source>
            <translation>Elija un archivo del trabajo, o capas para {names}.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>With edits that are not saved: {layers}.</source>
            <translation>Con cambios sin guardar: {layers}.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>A GeoPackage, a workbook or another file of many layers. Type the path of a folder, such as a File Geodatabase or a field project, or the URL of a PostGIS database.</source>
            <translation>Un GeoPackage, una hoja de cálculo u otro archivo de varias capas. Escriba la ruta de una carpeta, como una File Geodatabase o un proyecto de campo, o la URL de una base de datos PostGIS.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Job file, in place of layers</source>
            <translation>Archivo del trabajo, en lugar de capas</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>File of your layers</source>
            <translation>Archivo de sus capas</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Job file, or an earlier result, in place of layers</source>
            <translation>Archivo del trabajo, o un resultado anterior, en lugar de capas</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>A job file is chosen, and layers: clear Job file, or {names}.</source>
            <translation>Hay un archivo del trabajo elegido, y también capas: vacíe el archivo del trabajo, o {names}.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>It may be an earlier result: its folder, or result.gpkg.</source>
            <translation>Puede ser un resultado anterior: su carpeta, o result.gpkg.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Edits of its layers in the open project that are not saved are used too.</source>
            <translation>También se usan los cambios sin guardar de sus capas en el proyecto abierto.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Jobs</source>
            <translation>Trabajos</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>All files and folders</source>
            <translation>Todos los archivos y carpetas</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Save the edits of {layer} first.</source>
            <translation>Guarde antes los cambios de {layer}.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>{path}: it can't be read ({error}).</source>
            <translation>{path}: no se puede leer ({error}).</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source>Features exported: {counts}.</source>
            <translation>Objetos exportados: {counts}.</translation>
        </message>
        <message>
            <location filename="../job_input.py" />
            <source> and </source>
            <translation> y </translation>
        </message>
        <message>
            <location filename="../loading.py" />
            <source>leakgeo: faults of the job</source>
            <translation>leakgeo: fallos del trabajo</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>Nothing here clears a dig: local law, the one-call centre and licensed people decide.</source>
            <translation>Nada aquí autoriza una excavación: deciden la ley local, el centro de llamada única y personas con licencia.</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>... and {count} more, all in the table of faults.</source>
            <translation>... y {count} más, todos en la tabla de fallos.</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>stops</source>
            <translation>impide el trabajo</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>rejected</source>
            <translation>descartado</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>noted</source>
            <translation>aviso</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>... and {count} more, all in the table of lines.</source>
            <translation>... y {count} más, todas en la tabla de líneas.</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>... and {count} more.</source>
            <translation>... y {count} más.</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>No line was worked out.</source>
            <translation>No se calculó ninguna línea.</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>, about {seconds} s left</source>
            <translation>, faltan unos {seconds} s</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>default {value}</source>
            <translation>por defecto {value}</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>Layers</source>
            <translation>Capas</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>Results</source>
            <translation>Resultados</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>{done} of {total}</source>
            <translation>{done} de {total}</translation>
        </message>
        <message>
            <location filename="../messages.py" />
            <source>in {unit}</source>
            <translation>en {unit}</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Writes a folder with an empty job (job.gpkg) and a project with forms for stops, fittings, pipes and utilities (job.qgs). Draw the pipe into Routes, then tap each stop and type its level. Then run the whole chain: its dialog proposes the job of the open project.</source>
            <translation>Escribe una carpeta con un trabajo vacío (job.gpkg) y un proyecto con formularios para puntos, accesorios, tuberías y servicios (job.qgs). Dibuje la tubería en la capa de trazados, luego toque cada punto y escriba su nivel. Después ejecute toda la cadena: su diálogo propone el trabajo del proyecto abierto.</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Write an empty job with a project to draw and type into.</source>
            <translation>Escribe un trabajo vacío con un proyecto para dibujar y anotar.</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>CRS of the job</source>
            <translation>SRC del trabajo</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Units that people type and read</source>
            <translation>Unidades en que se escribe y se lee</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Open the project, if the current one has no unsaved changes</source>
            <translation>Abrir el proyecto, si el actual no tiene cambios sin guardar</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Folder of the job</source>
            <translation>Carpeta del trabajo</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Project</source>
            <translation>Proyecto</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Job</source>
            <translation>Trabajo</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>The current project has unsaved changes. Save it, then open {file}.</source>
            <translation>El proyecto actual tiene cambios sin guardar. Guárdelo y luego abra {file}.</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>As the CRS</source>
            <translation>Las del SRC</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Feet and inches</source>
            <translation>Pies y pulgadas</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Metres</source>
            <translation>Metros</translation>
        </message>
        <message>
            <location filename="../new_job.py" />
            <source>Stopped.</source>
            <translation>Detenido.</translation>
        </message>
        <message>
            <location filename="../outputs.py" />
            <source>Faults with rows left out</source>
            <translation>Fallos con filas descartadas</translation>
        </message>
        <message>
            <location filename="../outputs.py" />
            <source>Notes</source>
            <translation>Avisos</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>No job is open. Open a project that has the readings of a job GeoPackage as a layer, such as one that New job writes.</source>
            <translation>No hay ningún trabajo abierto. Abra un proyecto que tenga como capa las lecturas del GeoPackage de un trabajo, como el que escribe Trabajo nuevo.</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>Choose a line above, or select a pipe on the map.</source>
            <translation>Elija una línea arriba, o seleccione una tubería en el mapa.</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>leakgeo: one line</source>
            <translation>leakgeo: una línea</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>Computing ...</source>
            <translation>Calculando ...</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>Computing again ...</source>
            <translation>Calculando otra vez ...</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>There are too many unsaved edits in {layer}; save them.</source>
            <translation>Hay demasiados cambios sin guardar en {layer}; guárdelos.</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>Computed at {time} in {seconds} s.</source>
            <translation>Calculado a las {time} en {seconds} s.</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>Reading the job ...</source>
            <translation>Leyendo el trabajo ...</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>leakgeo starts again in {seconds} s ...</source>
            <translation>leakgeo arranca otra vez en {seconds} s ...</translation>
        </message>
        <message>
            <location filename="../panel.py" />
            <source>{count} lines.</source>
            <translation>{count} líneas.</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Line</source>
            <translation>Línea</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Zoom to the line</source>
            <translation>Acercar a la línea</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Compute again, and learn the ground again</source>
            <translation>Calcular otra vez, y aprender otra vez el terreno</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Help</source>
            <translation>Ayuda</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Answer</source>
            <translation>Respuesta</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Stops</source>
            <translation>Puntos</translation>
        </message>
        <message>
            <location filename="../panel_view.py" />
            <source>Back to the data</source>
            <translation>Volver a los datos</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Mapping of other names, codes and units</source>
            <translation>Correspondencia con otros nombres, códigos y unidades</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Only these lines</source>
            <translation>Solo estas líneas</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Replace earlier results in the folder</source>
            <translation>Reemplazar resultados anteriores en la carpeta</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Keep the replaced results, marked as superseded</source>
            <translation>Conservar los resultados reemplazados, marcados como sustituidos</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>PostGIS database to write to as well (URL)</source>
            <translation>Base de datos PostGIS en la que también se escribe (URL)</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Schema of that database</source>
            <translation>Esquema de esa base de datos</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Keep rows of other lines in that database</source>
            <translation>Conservar las filas de otras líneas en esa base de datos</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Only lines that meet this condition</source>
            <translation>Solo las líneas que cumplen esta condición</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>{label}, needed without a job file</source>
            <translation>{label}, necesaria sin archivo del trabajo</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Folder of the results</source>
            <translation>Carpeta de los resultados</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Draft of the mapping</source>
            <translation>Borrador de la correspondencia</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>Mappings (*.toml)</source>
            <translation>Correspondencias (*.toml)</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>{label}, one per row</source>
            <translation>{label}, uno por renglón</translation>
        </message>
        <message>
            <location filename="../parameters.py" />
            <source>{label} (one or more layers, all features)</source>
            <translation>{label} (una o más capas, todos los objetos)</translation>
        </message>
        <message>
            <location filename="../program.py" />
            <source>leakgeo was not found on this computer.</source>
            <translation>No se encontró leakgeo en este equipo.</translation>
        </message>
        <message>
            <location filename="../program.py" />
            <source>Install it in a terminal, from its source folder or wheel: {commands} (Python 3.11 or newer). Then run the algorithm 'Set up leakgeo', or give the path of the program under Settings &gt; Options &gt; Processing &gt; Providers &gt; leakgeo.</source>
            <translation>Instálelo en una terminal, desde su carpeta de fuentes o su wheel: {commands} (Python 3.11 o posterior). Después ejecute el algoritmo «Preparar leakgeo», o indique la ruta del programa en Configuración &gt; Opciones &gt; Procesos &gt; Proveedores &gt; leakgeo.</translation>
        </message>
        <message>
            <location filename="../program.py" />
            <source>There is no program at {path}.</source>
            <translation>No hay ningún programa en {path}.</translation>
        </message>
        <message>
            <location filename="../program.py" />
            <source>{program} can't be run ({error}).</source>
            <translation>No se puede ejecutar {program} ({error}).</translation>
        </message>
        <message>
            <location filename="../program.py" />
            <source>{program} doesn't list its steps: it is not leakgeo, or is too old or broken.</source>
            <translation>{program} no enumera sus pasos: no es leakgeo, o es demasiado antiguo o está dañado.</translation>
        </message>
        <message>
            <location filename="../program.py" />
            <source>leakgeo {version} at {program} writes format {format} of its JSON, and this plugin reads format {known}. Build the plugin of that version with: leakgeo plugin leakgeo.zip, and install it from the ZIP.</source>
            <translation>leakgeo {version} en {program} escribe el formato {format} de su JSON, y este complemento lee el formato {known}. Genere el complemento de esa versión con: leakgeo plugin leakgeo.zip, e instálelo desde el ZIP.</translation>
        </message>
        <message>
            <location filename="../provider.py" />
            <source>Path of the program leakgeo (empty: found automatically)</source>
            <translation>Ruta del programa leakgeo (vacía: se encuentra automáticamente)</translation>
        </message>
        <message>
            <location filename="../provider.py" />
            <source>leakgeo (not set up)</source>
            <translation>leakgeo (sin preparar)</translation>
        </message>
        <message>
            <location filename="../result_file.py" />
            <source>Faults</source>
            <translation>Fallos</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>Set up leakgeo</source>
            <translation>Preparar leakgeo</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>leakgeo runs in its own Python environment, outside QGIS. This algorithm finds it and adds its steps to the toolbox.</source>
            <translation>leakgeo se ejecuta en su propio entorno de Python, fuera de QGIS. Este algoritmo lo encuentra y agrega sus pasos a la caja de herramientas.</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>Path of the program leakgeo, if not found automatically</source>
            <translation>Ruta del programa leakgeo, si no se encuentra automáticamente</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>leakgeo {version} is at {program}.</source>
            <translation>leakgeo {version} está en {program}.</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>Program</source>
            <translation>Programa</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>Version</source>
            <translation>Versión</translation>
        </message>
        <message>
            <location filename="../set_up.py" />
            <source>Its steps are in the toolbox.</source>
            <translation>Sus pasos están en la caja de herramientas.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>Open the results in the project</source>
            <translation>Abrir los resultados en el proyecto</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>Layers, map themes, bookmarks and dig sheets, as in result.qgz.</source>
            <translation>Capas, temas de mapa, marcadores y hojas de excavación, como en result.qgz.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>Stopped. Finished chunks are kept in {folder}: run it again to continue.</source>
            <translation>Detenido. Las partes terminadas se conservan en {folder}: ejecútelo otra vez para continuar.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>Nothing was written.</source>
            <translation>No se escribió nada.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>The results were written.</source>
            <translation>Los resultados se escribieron.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>leakgeo ended with exit code {code} and no message. Run the command in the log in a terminal.</source>
            <translation>leakgeo terminó con el código de salida {code} y sin mensaje. Ejecute en una terminal la orden que está en el registro.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>Open the faults as a table</source>
            <translation>Abrir los fallos como tabla</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>A draft is in {file}. Correct it, then run Check with it.</source>
            <translation>Hay un borrador en {file}. Corríjalo, y luego ejecute Check con él.</translation>
        </message>
        <message>
            <location filename="../step.py" />
            <source>All faults are in {folder}.</source>
            <translation>Todos los fallos están en {folder}.</translation>
        </message>
        <message>
            <location filename="../toolbar.py" />
            <source>Run the whole chain</source>
            <translation>Ejecutar toda la cadena</translation>
        </message>
        <message>
            <location filename="../toolbar.py" />
            <source>New job</source>
            <translation>Trabajo nuevo</translation>
        </message>
        <message>
            <location filename="../toolbar.py" />
            <source>Panel of one line</source>
            <translation>Panel de una línea</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Pipe routes</source>
            <translation>Trazados de tubería</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Traced routes of the buried water lines, one row for each line. Z may be present; chainage does not use it. A line without a geometry is computed along the pipe if contacts have its taped list of fittings; it is then not placed on the ground.</source>
            <translation>Trazados de las líneas de agua enterradas, una fila por línea. Puede haber Z; la distancia a lo largo de la línea no la usa. Una línea sin geometría se calcula a lo largo de la tubería si contacts tiene su lista de accesorios medida con cinta; entonces no se sitúa en el terreno.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Readings</source>
            <translation>Lecturas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Sound readings, each from one stop of the sensor on the ground over a line.</source>
            <translation>Lecturas de sonido, cada una de una parada del sensor en el terreno sobre una línea.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Fittings</source>
            <translation>Accesorios</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Fittings of the lines: those listened to in the first survey, and those that distances are taped from. A list of fittings in order with the taped lengths between them describes a line without a geometry.</source>
            <translation>Accesorios de las líneas: los que se escucharon en la primera exploración, y aquellos desde los que se mide con cinta. Una lista de accesorios en orden, con los largos medidos entre ellos, describe una línea sin geometría.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Meter tests</source>
            <translation>Pruebas del medidor</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Meter readings at the start and the end of a period without water use.</source>
            <translation>Lecturas del medidor al comienzo y al final de un tiempo sin consumo de agua.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves</source>
            <translation>Válvulas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves of the lines, used by isolation tests and to account for valves that leak by.</source>
            <translation>Válvulas de las líneas, para las pruebas de aislamiento y para contar con las que pasan agua cerradas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Isolation tests</source>
            <translation>Pruebas de aislamiento</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Meter, flow or pressure readings taken before and after valves were shut.</source>
            <translation>Lecturas de medidor, caudal o presión tomadas antes y después de cerrar válvulas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves shut in isolation tests</source>
            <translation>Válvulas cerradas en pruebas de aislamiento</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves that were shut during isolation tests; one row for each valve and test.</source>
            <translation>Válvulas que se cerraron en pruebas de aislamiento; una fila por válvula y prueba.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Results of actions</source>
            <translation>Resultados de acciones</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Results of actions that leave no reading or test: what else sounds, and what was done again.</source>
            <translation>Resultados de acciones que no dejan lectura ni prueba: qué más suena, y qué se hizo otra vez.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Other utilities</source>
            <translation>Otros servicios</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Other buried facilities near the lines.</source>
            <translation>Otras instalaciones enterradas cerca de las líneas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Ground surfaces</source>
            <translation>Superficies del terreno</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Areas by ground cover.</source>
            <translation>Áreas según la cubierta del terreno.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>History</source>
            <translation>Historial</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Past leaks, excavations and repairs.</source>
            <translation>Fugas, excavaciones y reparaciones pasadas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Dig outcomes</source>
            <translation>Resultados de excavaciones</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Results of excavations: whether and where the leak was found.</source>
            <translation>Resultados de excavaciones: si se halló la fuga, y dónde.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Run</source>
            <translation>Ejecutar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Run a job through the whole chain, and write every result.</source>
            <translation>Lleva un trabajo por toda la cadena, y escribe todos los resultados.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Runs every step in order: meter tests, first survey, levels, location of the leak, ways to improve, next readings, air test, clearance of the dig, map, report and styles. Only the layers routes and readings are required; a note says what a missing layer would add. The job is not changed. A line that can't be computed is reported, and the others go on. Lines that were only taped give result.xlsx as well.</source>
            <translation>Ejecuta cada paso en orden: pruebas del medidor, primera exploración, niveles, lugar de la fuga, maneras de mejorar, lecturas siguientes, prueba de aire, revisión de la excavación, mapa, informe y estilos. Solo hacen falta las capas routes y readings; una nota dice qué agregaría una capa que falta. El trabajo no cambia. Una línea que no se puede calcular se informa, y las demás siguen. Las líneas que solo se midieron con cinta dan también result.xlsx.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>The job</source>
            <translation>El trabajo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>A file of many layers, a folder of files, or the URL of a PostGIS database.</source>
            <translation>Un archivo de muchas capas, una carpeta de archivos, o la URL de una base de datos PostGIS.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Mapping</source>
            <translation>Correspondencia</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>TOML file that translates your layers, columns, codes and units.</source>
            <translation>Archivo TOML que traduce sus capas, columnas, códigos y unidades.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Lines</source>
            <translation>Líneas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Only the line with this line_id.</source>
            <translation>Solo la línea con este line_id.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Where</source>
            <translation>Condición</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Compute only the lines whose routes meet this SQL condition, such as "district = 7"; of the rest only what lies around them is read.</source>
            <translation>Calcula solo las líneas cuyos trazados cumplen esta condición SQL, como "district = 7"; del resto se lee solo lo que está alrededor de ellas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Output</source>
            <translation>Salida</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Out</source>
            <translation>Salida</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Folder to write into; created if needed.</source>
            <translation>Carpeta en la que se escribe; se crea si hace falta.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Units</source>
            <translation>Unidades</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Units of texts; by default us for a job in a foot CRS, or in degrees with tapes in feet, else si. Numbers in layers stay in SI.</source>
            <translation>Unidades de los textos; si no se dan, us para un trabajo en un SRC en pies, o en grados con cintas en pies, y si para los demás. Los números de las capas quedan en SI.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Language</source>
            <translation>Idioma</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Language of what people read, with its numbers and dates; codes, values and names do not depend on it.</source>
            <translation>Idioma de lo que leen las personas, con sus números y fechas; códigos, valores y nombres no dependen de él.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Overwrite</source>
            <translation>Reemplazar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Replace earlier results.</source>
            <translation>Reemplaza resultados anteriores.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Keep earlier</source>
            <translation>Conservar los anteriores</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Keep the results that are replaced, in the folder superseded, marked as such.</source>
            <translation>Conserva los resultados reemplazados, en la carpeta superseded, señalados como tales.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>To postgis</source>
            <translation>A PostGIS</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>URL of a PostGIS database to write results to as well.</source>
            <translation>URL de una base de datos PostGIS en la que también se escriben los resultados.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Schema</source>
            <translation>Esquema</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Schema of that database.</source>
            <translation>Esquema de esa base de datos.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Upsert</source>
            <translation>Reemplazar por línea</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>In that database, replace the rows of the lines of this result; those of other lines stay, but for their ranks, which are over all lines there.</source>
            <translation>En esa base de datos, reemplaza las filas de las líneas de este resultado; las de otras líneas quedan, salvo sus rangos, que son entre todas las líneas de allí.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Metrics</source>
            <translation>Métricas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>File to write for a monitoring system, in the text format of OpenMetrics; also where the run fails.</source>
            <translation>Archivo que se escribe para un sistema de supervisión, en el formato de texto de OpenMetrics; también si la ejecución falla.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Large jobs</source>
            <translation>Trabajos grandes</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Update</source>
            <translation>Actualizar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Work out only the lines whose inputs have changed since the last update of the folder, and replace the result there. The law of noise stays the one learned first, until it is learned again.</source>
            <translation>Calcula solo las líneas cuyos datos cambiaron desde la última actualización de la carpeta, y reemplaza el resultado en ella. La ley del ruido sigue siendo la que se aprendió primero, hasta que se aprenda otra vez.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Relearn</source>
            <translation>Aprender de nuevo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>With an update, learn the law of noise again, and so work out all lines.</source>
            <translation>Con una actualización, aprende otra vez la ley del ruido, y calcula por eso todas las líneas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Resume</source>
            <translation>Continuar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Continue a stopped run of a large job.</source>
            <translation>Continúa una ejecución detenida de un trabajo grande.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Scheduler</source>
            <translation>Planificador</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Address of a Dask scheduler whose workers compute the job, such as tcp://10.0.0.5:8786; they must be able to read it.</source>
            <translation>Dirección de un planificador Dask cuyos procesos calculan el trabajo, como tcp://10.0.0.5:8786; deben poder leerlo.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step meter</source>
            <translation>Paso meter</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Price per m3</source>
            <translation>Precio por m3</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Price of a cubic metre of water.</source>
            <translation>Precio de un metro cúbico de agua.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Currency</source>
            <translation>Moneda</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Currency of the price.</source>
            <translation>Moneda del precio.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Other pressure</source>
            <translation>Otra presión</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Second pressure to state the loss at, besides the line's own.</source>
            <translation>Segunda presión para la que se da la pérdida, además de la propia de la línea.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>N1</source>
            <translation>N1</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Exponent of pressure: 0.5 for a hole of fixed size; 0.36 to 2.95 in field tests.</source>
            <translation>Exponente de la presión: 0.5 para un orificio de tamaño fijo; de 0.36 a 2.95 en pruebas de campo.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Discharge</source>
            <translation>Coeficiente de descarga</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Discharge coefficient of the equivalent hole.</source>
            <translation>Coeficiente de descarga del orificio equivalente.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step steptest</source>
            <translation>Paso steptest</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Inlets</source>
            <translation>Entradas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Fittings or valves at which all water enters the district and is measured, by contact_id or valve_id, separated by commas.</source>
            <translation>Accesorios o válvulas por los que entra toda el agua al sector y en los que se mide, por contact_id o valve_id, separados por comas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Boundary</source>
            <translation>Válvulas del límite</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves that stay closed around the district, or in it, by valve_id, separated by commas.</source>
            <translation>Válvulas que quedan cerradas alrededor del sector, o dentro de él, por valve_id, separadas por comas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Use l per min</source>
            <translation>Consumo en l por min</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Flow into the district that is plain use at the hour of the tests.</source>
            <translation>Caudal que entra al sector y es simple consumo a la hora de las pruebas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Route sd</source>
            <translation>Error del trazado</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Trace error of routes without one (1-sigma).</source>
            <translation>Error del trazado de las líneas que no lo tienen (1 sigma).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Join gap</source>
            <translation>Hueco entre extremos unidos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Largest gap between routes that meet, beyond twice their trace errors.</source>
            <translation>Mayor hueco entre trazados que se tocan, además del doble de sus errores.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step survey</source>
            <translation>Paso survey</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Constants</source>
            <translation>Constantes</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>TOML file with your own assumptions about materials, surfaces and noise.</source>
            <translation>Archivo TOML con sus propias suposiciones sobre materiales, superficies y ruido.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Priors</source>
            <translation>Probabilidades previas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Records that make a place likelier before listening: all, none, or some of fittings, past_leaks, repairs, excavations and age, separated by commas.</source>
            <translation>Registros que hacen más probable un lugar antes de escuchar: all (todos), none (ninguno), o algunos de fittings, past_leaks, repairs, excavations y age, separados por comas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step ground</source>
            <translation>Paso ground</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Ground</source>
            <translation>Terreno</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>File ground.toml of an earlier run, used instead of learning from this job.</source>
            <translation>Archivo ground.toml de una ejecución anterior, que se usa en lugar de aprender de este trabajo.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Reading sd</source>
            <translation>Error de la lectura</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Satellite position error of readings without one (1-sigma).</source>
            <translation>Error de la posición por satélite de las lecturas que no lo tienen (1 sigma).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Tape sd</source>
            <translation>Error de la cinta</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Error of taped distances without one (1-sigma).</source>
            <translation>Error de las distancias con cinta que no lo tienen (1 sigma).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Trust declarations</source>
            <translation>Confiar en lo declarado</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Use readings as declared though their unit, CRS or tape looks wrong. If the declaration is wrong after all, such as db for a display from 0 to 100, a mark may come out that looks surer than it is, at a wrong place.</source>
            <translation>Usa las lecturas como se declararon aunque su unidad, SRC o cinta parezca errónea. Si la declaración resulta errónea, como db para un visor de 0 a 100, puede salir una marca que parece más firme de lo que es, en un lugar equivocado.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Workers</source>
            <translation>Procesos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Lines, chunks of a large job, or pages of a long report, made at the same time; by default one for each processor.</source>
            <translation>Líneas, partes de un trabajo grande, o páginas de un informe largo que se hacen al mismo tiempo; si no se da, una por procesador.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step profile</source>
            <translation>Paso profile</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step</source>
            <translation>Intervalo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Spacing of the interpolated profile.</source>
            <translation>Intervalo del perfil interpolado.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step locate</source>
            <translation>Paso locate</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Leak prior</source>
            <translation>Probabilidad previa de fuga</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Probability, before listening, that a walked line has a leak.</source>
            <translation>Probabilidad, antes de escuchar, de que una línea recorrida tenga una fuga.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Zone probability</source>
            <translation>Probabilidad de las zonas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Probability that the zones hold in total.</source>
            <translation>Probabilidad que las zonas contienen en total.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Calibration</source>
            <translation>Calibración</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>File written by learn from excavation results; it changes zones and odds.</source>
            <translation>Archivo que learn escribe con resultados de excavaciones; cambia zonas y probabilidades.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Most over</source>
            <translation>Presión máxima de más</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Reject readings with air at more than this above the line's own pressure.</source>
            <translation>Rechaza lecturas con aire a más de esto por encima de la presión propia de la línea.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step improvements</source>
            <translation>Paso improvements</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Rated</source>
            <translation>Presión nominal</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Pressure rating of the lines; no advice goes beyond it.</source>
            <translation>Presión nominal de las líneas; ningún consejo la supera.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Deep</source>
            <translation>Profunda desde</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Cover above which a line counts as deep.</source>
            <translation>Recubrimiento desde el que una línea cuenta como profunda.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step advise</source>
            <translation>Paso advise</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>How many</source>
            <translation>Cuántos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Readings to propose for each line; a first walk is proposed in full.</source>
            <translation>Lecturas que se proponen en cada línea; un primer recorrido se propone completo.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Short zone</source>
            <translation>Zona corta</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Total zone length that needs no more readings.</source>
            <translation>Largo total de las zonas con el que no hacen falta más lecturas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Least bits</source>
            <translation>Ganancia mínima en bits</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Minimum expected information gain of the proposed readings, on the average; lower where a zone is nearly short enough.</source>
            <translation>Menor ganancia de información que se espera de las lecturas propuestas, en promedio; es menor donde a una zona le falta poco para ser corta.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Walk m per bit</source>
            <translation>Metros de recorrido por bit</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Walking distance that one bit of information is worth.</source>
            <translation>Distancia de recorrido que vale un bit de información.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Coarse step</source>
            <translation>Intervalo grueso</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Longest distance between stops of a first walk.</source>
            <translation>Mayor distancia entre paradas de un primer recorrido.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>First walks</source>
            <translation>Primeros recorridos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Lines without readings to propose a walk on: those where a fitting or a loss of water indicates a leak, or all.</source>
            <translation>Líneas sin lecturas en las que se propone un recorrido: las que tienen un accesorio o una pérdida de agua que indica una fuga, o all (todas).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Costs</source>
            <translation>Costos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>TOML file with your own minutes of the actions that are compared.</source>
            <translation>Archivo TOML con sus propios minutos de las acciones que se comparan.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Without</source>
            <translation>Sin</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Actions that the crew can't do, such as air or probe, separated by commas.</source>
            <translation>Acciones que la cuadrilla no puede hacer, como air (aire) o probe (sonda), separadas por comas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step clearance</source>
            <translation>Paso clearance</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Rule</source>
            <translation>Regla</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Name of a tolerance rule, or FILE.toml#NAME for one of your own; local law governs.</source>
            <translation>Nombre de una regla de tolerancia, o FILE.toml#NAME para una propia; manda la ley local.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Working width</source>
            <translation>Ancho de trabajo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Working room on each side of the mark's error ellipse.</source>
            <translation>Espacio de trabajo a cada lado de la elipse de error de la marca.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Longest hole</source>
            <translation>Hoyo más largo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Longest hole; where the mark's error is longer, the dig is held.</source>
            <translation>Hoyo más largo; donde el error de la marca es más largo, la excavación queda detenida.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Dig date</source>
            <translation>Día de la excavación</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Local day when digging begins, such as 2026-03-31.</source>
            <translation>Día local en que comienza la excavación, como 2026-03-31.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Notice days</source>
            <translation>Días de aviso</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Full working days of notice before the dig that local law requires.</source>
            <translation>Días hábiles completos de aviso antes de la excavación que exige la ley local.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Validity days</source>
            <translation>Días de vigencia</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Calendar days from the notice for which local law keeps a ticket valid.</source>
            <translation>Días corridos desde el aviso en los que la ley local da validez a un ticket.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Holidays</source>
            <translation>Días festivos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Country and subdivision of the public holidays, such as US-MI.</source>
            <translation>País y subdivisión de los días festivos, como US-MI.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Time zone</source>
            <translation>Zona horaria</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Local time zone, such as America/Detroit; without it, the stricter date counts.</source>
            <translation>Zona horaria local, como America/Detroit; sin ella vale la fecha más estricta.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Isolated</source>
            <translation>Líneas cerradas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Somebody has seen that the line with this line_id is shut off and vented; other lines keep their holds for pressure and air.</source>
            <translation>Alguien vio que la línea con este line_id está cerrada y purgada; otras líneas conservan sus motivos de detención por presión y aire.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step learn</source>
            <translation>Paso learn</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>The result.gpkg used for the digs, or its folder; else the job is located now.</source>
            <translation>El result.gpkg con el que se excavó, o su carpeta; si no se da, el trabajo se localiza ahora.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Least cases</source>
            <translation>Mínimo de casos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Fewest excavations that count for a calibration.</source>
            <translation>Menor número de excavaciones que vale para una calibración.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step map</source>
            <translation>Paso map</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Top</source>
            <translation>Las primeras</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Show only so many lines, the first in the order of the digs: those without a recorded hold, then held ones, then other lines.</source>
            <translation>Muestra solo este número de líneas, las primeras en el orden de las excavaciones: las que no tienen un motivo de detención registrado, luego las detenidas, luego las demás.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Status</source>
            <translation>Estado</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Show only lines of these statuses, separated by commas: of the line, such as located, or of its dig, hold or no_hold_recorded.</source>
            <translation>Muestra solo líneas con estos estados, separados por comas: de la línea, como located, o de su excavación, hold o no_hold_recorded.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Near</source>
            <translation>Cerca de</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Only lines near a place: X Y, or X Y RADIUS, such as 500100 4684000 300ft; 100 m without a radius. X and Y are in the CRS of the routes, or longitude and latitude.</source>
            <translation>Solo líneas cerca de un lugar: X Y, o X Y RADIO, como 500100 4684000 300ft; sin radio, 100 m. X e Y están en el SRC de los trazados, o son longitud y latitud.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Map lines</source>
            <translation>Líneas en el mapa</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Most lines on the map, the most urgent; by default all.</source>
            <translation>Mayor número de líneas en el mapa, las más urgentes; si no se da, todas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Orthophoto</source>
            <translation>Ortofoto</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Aerial photo to show under the map, such as a GeoTIFF; it is stored in the file.</source>
            <translation>Foto aérea que se muestra debajo del mapa, como un GeoTIFF; se guarda en el archivo.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Tiles</source>
            <translation>Teselas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Address of background tiles, such as https://HOST/{z}/{x}/{y}.png; an open map then connects to that host, and to no other.</source>
            <translation>Dirección de teselas de fondo, como https://HOST/{z}/{x}/{y}.png; un mapa abierto se conecta entonces a ese servidor, y a ningún otro.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step report</source>
            <translation>Paso report</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Report lines</source>
            <translation>Líneas en el informe</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Most lines with a page, the most urgent; by default all.</source>
            <translation>Mayor número de líneas con una página, las más urgentes; si no se da, todas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step export</source>
            <translation>Paso export</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Format</source>
            <translation>Formato</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Other formats to write, separated by commas: dxf, flatgeobuf, geojson, geoparquet, kml, shapefile, xlsx, or all.</source>
            <translation>Otros formatos que se escriben, separados por comas: dxf, flatgeobuf, geojson, geoparquet, kml, shapefile, xlsx, o all (todos).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Density</source>
            <translation>Densidad</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Write leak_density.tif.</source>
            <translation>Escribe leak_density.tif.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Density lines</source>
            <translation>Líneas con densidad</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Most lines on it, the most urgent; by default all.</source>
            <translation>Mayor número de líneas en él, las más urgentes; si no se da, todas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Density pixel</source>
            <translation>Píxel de la densidad</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Pixel size.</source>
            <translation>Tamaño del píxel.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Meter</source>
            <translation>Medidor</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Find</source>
            <translation>Buscar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Compute from meter tests how much water each line loses, its cost, and the hole size.</source>
            <translation>Calcula con pruebas del medidor cuánta agua pierde cada línea, su costo y el tamaño del orificio.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Each row of meter_tests is a meter read before and after a time with every outlet closed. The tests of a line are combined; a change within the meter's own resolution is no loss. The pressure of the route, where it is given, yields the size of the equivalent hole.</source>
            <translation>Cada fila de meter_tests es un medidor leído antes y después de un tiempo con todas las salidas cerradas. Las pruebas de una línea se combinan; un cambio menor que la resolución del propio medidor no es pérdida. La presión del trazado, si se da, permite calcular el tamaño del orificio equivalente.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step test</source>
            <translation>Prueba por pasos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Plan a step test: valves of a district to shut next, and which segment loses water.</source>
            <translation>Planifica una prueba por pasos: qué válvulas de un sector cerrar después, y qué segmento pierde agua.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>All water enters a district by night through measured inlets. Valves are shut, and the flow at the inlets is read before and after: isolation_tests with their closed_valves, with measure flow. Readings at several inlets with the same valves shut at the same time are summed. From the tests so far the step chooses the closure that is expected to tell the most, until one segment between valves holds the loss with 90 %; then walk its pipes. A valve may pass water when it is shut: the step allows for one. It assumes one loss in the district. If a valve can't be shut, set its leaks_by, and another is chosen. Where most parts are supplied from several sides, name valves that open loops in boundary too. Only the owner's people operate a valve. Without inlets both layers are empty.</source>
            <translation>De noche toda el agua entra a un sector por entradas medidas. Se cierran válvulas, y el caudal de las entradas se lee antes y después: isolation_tests con sus closed_valves, con measure flow. Las lecturas de varias entradas con las mismas válvulas cerradas a la misma hora se suman. Con las pruebas hechas el paso elige el cierre del que se espera saber más, hasta que un segmento entre válvulas tenga la pérdida con 90 %; entonces recorra sus tuberías. Una válvula puede pasar agua cerrada: el paso cuenta con una. Supone una sola pérdida en el sector. Si una válvula no se puede cerrar, escriba su leaks_by, y se elige otra. Donde la mayoría de las partes recibe agua de varios lados, nombre también en boundary válvulas que abran mallas. Solo el personal del propietario maneja una válvula. Sin entradas las dos capas quedan vacías.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Survey</source>
            <translation>Exploración</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Rank the fittings listened to, and bracket the leak between the loudest.</source>
            <translation>Ordena los accesorios escuchados, y acota la fuga entre los más ruidosos.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Contacts are the fittings listened to in the first survey: hydrants, hose bibs, valves. Routes that meet are joined into a network first. If nothing indicates a leak, the result says so before it lists stretches.</source>
            <translation>Los contactos son los accesorios escuchados en la primera exploración: hidrantes, grifos de manguera, válvulas. Antes se unen en una red los trazados que se tocan. Si nada indica una fuga, el resultado lo dice antes de enumerar tramos.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Learn from all lines of the job how readings scatter, and how crews walk.</source>
            <translation>Aprende de todas las líneas del trabajo cómo se dispersan las lecturas, y cómo caminan las cuadrillas.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Sensor and ground couple differently at each stop, and on rough ground more than on smooth. How much decides how narrow a zone may be. The step learns from up to 200 lines of the job how common each kind of ground is; with few lines the shipped figures count. Of walks by satellite it learns how the errors of the positions hang together, and how long the crews' steps are. A run writes what it learned to ground.toml, for the next job of the same crew.</source>
            <translation>Sensor y terreno se acoplan de otra manera en cada parada, y más en terreno irregular que en liso. Cuánto varía decide qué tan angosta puede ser una zona. El paso aprende de hasta 200 líneas del trabajo qué tan común es cada clase de terreno; con pocas líneas valen las cifras incluidas. De los recorridos por satélite aprende cómo se relacionan los errores de las posiciones, y qué tan largos son los pasos de las cuadrillas. Una ejecución escribe lo aprendido en ground.toml, para el próximo trabajo de la misma cuadrilla.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Profile</source>
            <translation>Perfil</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Place the readings on their pipes, make levels comparable, and interpolate them.</source>
            <translation>Sitúa las lecturas en sus tuberías, hace comparables los niveles, y los interpola.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Every reading is placed on its line by its line_id or its position; taped distance and satellite position are combined with weights from their errors. Levels are compared within one walk; known gains are subtracted. Each reading that is not used has its reason.</source>
            <translation>Cada lectura se sitúa en su línea por su line_id o por su posición; la distancia con cinta y la posición por satélite se combinan con pesos según sus errores. Los niveles se comparan dentro de un mismo recorrido; las ganancias conocidas se restan. Cada lectura que no se usa tiene su razón.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Locate</source>
            <translation>Localizar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Compute where along each line the leak is: probabilities, search zones and a mark.</source>
            <translation>Calcula en qué parte de cada línea está la fuga: probabilidades, zonas de búsqueda y una marca.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>For each line, every place is weighed by how well a leak there explains the readings, compared with no leak, with a fitting or another source that sounds, and with a leak beyond an end. Meter tests, air tests, sweeps across the line and holes count as evidence too. The result is a set of search zones that together hold the leak with the probability requested, and one mark with its error.</source>
            <translation>En cada línea se pesa qué tan bien una fuga en cada lugar explica las lecturas, en comparación con ninguna fuga, con un accesorio u otra fuente que suena, y con una fuga más allá de un extremo. También cuentan como indicios las pruebas del medidor, las de aire, los barridos transversales y los hoyos. El resultado es un conjunto de zonas de búsqueda que en total contienen la fuga con la probabilidad pedida, y una marca con su error.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Improvements</source>
            <translation>Mejoras</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>List ways to improve on deep or quiet lines, with the error expected of each.</source>
            <translation>Enumera maneras de mejorar en líneas profundas o silenciosas, con el error esperado de cada una.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>For each line that is deep, or whose leak is not narrowed down, it computes how far a quieter hour, a probe, closer stops or a higher pressure could lower the smallest possible error (Cramér-Rao bound).</source>
            <translation>En cada línea que es profunda, o cuya fuga no está acotada, calcula cuánto podrían bajar el menor error posible una hora más silenciosa, una sonda, paradas más juntas o una presión más alta (cota de Cramér-Rao).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Advise</source>
            <translation>Aconsejar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Compare what can be done next on each line, with the gain expected, and when to stop.</source>
            <translation>Compara qué hacer después en cada línea, con la ganancia esperada, y cuándo parar.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>For each line whose leak is not yet narrowed down, it compares what can be done next: more stops, a sweep across, the meter with the house valve shut, a closed valve, air, a quiet hour, and others. Each has its expected information gain and its minutes; the best gain in an hour comes first. It says where to walk on, and when to stop and why. Minutes are assumed: give your own with --costs, and --without names what you have not with you. For lines without readings it proposes the first walk. The command also writes the map and the report.</source>
            <translation>En cada línea cuya fuga todavía no está acotada, compara lo que se puede hacer después: más paradas, un barrido transversal, el medidor con la válvula de la casa cerrada, una válvula cerrada, aire, una hora silenciosa y otras acciones. Cada una tiene la ganancia de información que se espera de ella y sus minutos; la mejor ganancia por hora va primero. Dice dónde seguir caminando, y cuándo parar y por qué. Los minutos son supuestos: dé los suyos con --costs; --without nombra lo que usted no lleva. En las líneas sin lecturas propone el primer recorrido. El comando escribe también el mapa y el informe.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Confirm</source>
            <translation>Confirmar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Prove</source>
            <translation>Probar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Compare levels with compressed air on and off, to see if the sound is the leak.</source>
            <translation>Compara niveles con aire comprimido y sin él, para ver si el sonido es la fuga.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>It needs readings at the same place with air both off and on (column air). Pairs near the mark are compared with pairs at control points of the same line.</source>
            <translation>Necesita lecturas en el mismo lugar con aire y sin él (columna air). Los pares cerca de la marca se comparan con pares en puntos de control de la misma línea.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step confirm</source>
            <translation>Paso confirm</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Clearance</source>
            <translation>Servicios antes de excavar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Dig</source>
            <translation>Excavar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Draw the dig zone, and list the utilities and answers to clear before digging.</source>
            <translation>Dibuja la zona de excavación, y enumera los servicios y las respuestas pendientes antes de excavar.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>The dig zone is the mark's error ellipse with working room around it. It is compared with utilities, their position errors and tolerance zones, and their tickets and answers. The step lists what must be cleared before digging; it never clears a dig: local law, the one-call centre and licensed people decide. The command also writes the map and the report, with a dig sheet for each mark.</source>
            <translation>La zona de excavación es la elipse de error de la marca con espacio de trabajo alrededor. Se compara con los servicios, sus errores de posición y zonas de tolerancia, y con sus tickets y respuestas. El paso enumera lo que hay que resolver antes de excavar; nunca autoriza una excavación: deciden la ley local, el centro de llamada única y personas con licencia. El comando escribe también el mapa y el informe, con una hoja de excavación por cada marca.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Learn</source>
            <translation>Aprender</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Compare marks with excavation results: hit rates, reliability, and a calibration.</source>
            <translation>Compara marcas con resultados de excavaciones: aciertos, fiabilidad y una calibración.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>dig_outcomes of the job record where excavations found the leak, or did not. They are compared with the marks of the result that was used for the digs. With enough excavations it writes calibration.toml, which locate reads as its calibration.</source>
            <translation>dig_outcomes del trabajo anota dónde las excavaciones hallaron la fuga, o no. Se comparan con las marcas del resultado con el que se excavó. Con suficientes excavaciones escribe calibration.toml, que locate lee como su calibración.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Map</source>
            <translation>Mapa</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Deliver</source>
            <translation>Entregar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Write one HTML map that opens without a network.</source>
            <translation>Escribe un mapa HTML que se abre sin red.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>The file holds everything: it opens in a truck and on a phone. It shows marks with their errors, zones, readings, next stops, utilities and what must be cleared before digging; a click on a line shows its levels. map.html#line=ID opens at a line.</source>
            <translation>El archivo lo contiene todo: se abre en un camión y en un teléfono. Muestra marcas con sus errores, zonas, lecturas, paradas siguientes, servicios y lo que hay que resolver antes de excavar; un clic en una línea muestra sus niveles. map.html#line=ID se abre en una línea.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Report</source>
            <translation>Informe</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Write the PDF report: an overview, then a page for each line.</source>
            <translation>Escribe el informe en PDF: un resumen, y luego una página por línea.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>For each line: a plan, the levels, the probabilities in words, and a sheet to take to the dig with hazards, ties to set the mark out again, and boxes to sign. Paper is A4, or letter if units are us.</source>
            <translation>Por cada línea: un plano, los niveles, las probabilidades en palabras, y una hoja para llevar a la excavación con peligros, distancias de referencia para volver a poner la marca, y casillas para firmar. El papel es A4, o carta si las unidades son us.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Export</source>
            <translation>Exportar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Write styles, a raster of the leak density, and the layers in other formats.</source>
            <translation>Escribe estilos, un ráster de la densidad de fuga, y las capas en otros formatos.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>It takes a job, or the result of an earlier run. QML and SLD styles go to styles/, the leak density to a cloud-optimised GeoTIFF. The faults list what each other format loses.</source>
            <translation>Toma un trabajo, o el resultado de una ejecución anterior. Los estilos QML y SLD van a styles/, la densidad de fuga a un GeoTIFF optimizado para la nube. Los defectos enumeran lo que pierde cada formato.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Check</source>
            <translation>Comprobar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Begin</source>
            <translation>Empezar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Report every fault of a job, and change nothing.</source>
            <translation>Informa de cada defecto de un trabajo, y no cambia nada.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>JOB is a file of many layers, a folder of files named like the layers, or the URL of a PostGIS database. Each fault has layer, feature, what to do, and its effect: noted (the data are used), rejected (the row or layer is not used), or stops (the job can't be run).</source>
            <translation>JOB es un archivo de muchas capas, una carpeta de archivos con los nombres de las capas, o la URL de una base de datos PostGIS. Cada defecto tiene capa, objeto, qué hacer y su efecto: noted (los datos se usan), rejected (la fila o la capa no se usa) o stops (el trabajo no se puede ejecutar).</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Options</source>
            <translation>Opciones</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Mapping draft</source>
            <translation>Borrador de correspondencia</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Draft a mapping of your layers, columns and codes, for you to correct.</source>
            <translation>Hace un borrador de la correspondencia de sus capas, columnas y códigos, para que usted lo corrija.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>A mapping translates your layers, columns, codes and units to those of leakgeo. The draft has a comment wherever it is not sure. Correct it, and give it to check and run as their mapping.</source>
            <translation>Una correspondencia traduce sus capas, columnas, códigos y unidades a los de leakgeo. El borrador tiene un comentario donde no hay certeza. Corríjalo, y délo a check y a run como su correspondencia.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>File to write; without it, the draft is printed.</source>
            <translation>Archivo que se escribe; sin él, el borrador se imprime.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Demo</source>
            <translation>Demostración</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Write a small invented town, and run the chain on it.</source>
            <translation>Escribe un pueblo pequeño e inventado, y lo lleva por la cadena.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Some thirty lines, some with a leak, with readings, fittings, meter tests and utilities; two readings are faulty on purpose. All data are simulated. It writes what run writes, and town.gpkg: the job, to try the other commands on.</source>
            <translation>Unas treinta líneas, algunas con una fuga, con lecturas, accesorios, pruebas del medidor y servicios; dos lecturas están mal a propósito. Todos los datos son simulados. Escribe lo que escribe run, y town.gpkg: el trabajo, para probar con él los demás comandos.</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Seed</source>
            <translation>Semilla</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Number that the town is drawn from: another one gives other pipes, leaks and readings.</source>
            <translation>Número del que sale el pueblo: otro da otras tuberías, fugas y lecturas.</translation>
        </message>
    </context>
</TS>
