"""The output folder: the files of a result, written whole or not at all."""
