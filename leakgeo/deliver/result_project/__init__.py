"""``result.qgz``: a QGIS project of a result, beside its GeoPackage."""
