"""Parts of QGIS projects and styles that a job and a result share."""
