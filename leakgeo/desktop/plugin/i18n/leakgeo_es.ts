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
            <translation>Trazados de tuberías</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Readings</source>
            <translation>Lecturas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Fittings</source>
            <translation>Accesorios</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Meter tests</source>
            <translation>Pruebas del medidor</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves</source>
            <translation>Válvulas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Isolation tests</source>
            <translation>Pruebas de aislamiento</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Valves shut in isolation tests</source>
            <translation>Válvulas cerradas en pruebas de aislamiento</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Results of actions</source>
            <translation>Resultados de acciones</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Other utilities</source>
            <translation>Otros servicios</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Ground surfaces</source>
            <translation>Superficies del terreno</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>History</source>
            <translation>Historial</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Dig outcomes</source>
            <translation>Resultados de excavaciones</translation>
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
            <source>The job</source>
            <translation>El trabajo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Mapping</source>
            <translation>Correspondencia</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Lines</source>
            <translation>Líneas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Where</source>
            <translation>Condición</translation>
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
            <source>Units</source>
            <translation>Unidades</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Language</source>
            <translation>Idioma</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Overwrite</source>
            <translation>Reemplazar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Keep earlier</source>
            <translation>Conservar los anteriores</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>To postgis</source>
            <translation>A PostGIS</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Schema</source>
            <translation>Esquema</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Upsert</source>
            <translation>Reemplazar por línea</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Metrics</source>
            <translation>Métricas</translation>
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
            <source>Relearn</source>
            <translation>Aprender de nuevo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Resume</source>
            <translation>Continuar</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Scheduler</source>
            <translation>Planificador</translation>
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
            <source>Currency</source>
            <translation>Moneda</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Other pressure</source>
            <translation>Otra presión</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>N1</source>
            <translation>N1</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Discharge</source>
            <translation>Coeficiente de descarga</translation>
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
            <source>Boundary</source>
            <translation>Válvulas del límite</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Use l per min</source>
            <translation>Consumo en l por min</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Route sd</source>
            <translation>Error del trazado</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Join gap</source>
            <translation>Hueco entre extremos unidos</translation>
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
            <source>Priors</source>
            <translation>Probabilidades previas</translation>
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
            <source>Reading sd</source>
            <translation>Error de la lectura</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Tape sd</source>
            <translation>Error de la cinta</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Trust declarations</source>
            <translation>Confiar en lo declarado</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Workers</source>
            <translation>Procesos</translation>
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
            <source>Zone probability</source>
            <translation>Probabilidad de las zonas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Calibration</source>
            <translation>Calibración</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Most over</source>
            <translation>Presión máxima de más</translation>
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
            <source>Deep</source>
            <translation>Profunda desde</translation>
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
            <source>Short zone</source>
            <translation>Zona corta</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Least bits</source>
            <translation>Ganancia mínima en bits</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Walk m per bit</source>
            <translation>Metros de recorrido por bit</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Coarse step</source>
            <translation>Intervalo grueso</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>First walks</source>
            <translation>Primeros recorridos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Costs</source>
            <translation>Costos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Without</source>
            <translation>Sin</translation>
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
            <source>Working width</source>
            <translation>Ancho de trabajo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Longest hole</source>
            <translation>Hoyo más largo</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Dig date</source>
            <translation>Día de la excavación</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Notice days</source>
            <translation>Días de aviso</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Validity days</source>
            <translation>Días de vigencia</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Holidays</source>
            <translation>Días festivos</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Time zone</source>
            <translation>Zona horaria</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Isolated</source>
            <translation>Líneas cerradas</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Step learn</source>
            <translation>Paso learn</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Least cases</source>
            <translation>Mínimo de casos</translation>
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
            <source>Status</source>
            <translation>Estado</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Near</source>
            <translation>Cerca de</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Map lines</source>
            <translation>Líneas en el mapa</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Orthophoto</source>
            <translation>Ortofoto</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Tiles</source>
            <translation>Teselas</translation>
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
            <source>Density</source>
            <translation>Densidad</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Density lines</source>
            <translation>Líneas con densidad</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Density pixel</source>
            <translation>Píxel de la densidad</translation>
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
            <source>Step test</source>
            <translation>Prueba por cierres</translation>
        </message>
        <message>
            <location filename="../catalog_words.py" />
            <source>Plan a step test: valves of a district to shut next, and which segment loses water.</source>
            <translation>Planifica una prueba por cierres: qué válvulas de un sector cerrar después, y qué tramo pierde agua.</translation>
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
            <source>Learn from all lines of the job how readings scatter, and how crews walk.</source>
            <translation>Aprende de todas las líneas del trabajo cómo se dispersan las lecturas, y cómo caminan las cuadrillas.</translation>
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
            <source>Seed</source>
            <translation>Semilla</translation>
        </message>
    </context>
</TS>
