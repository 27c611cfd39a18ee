"""
A dig sheet
===========

The report has a sheet for each mark, to take to the dig: what must be cleared first, the utilities
near the hole, the ground to have marked, and boxes for people to sign. This one is of a simulated
line beside a simulated gas pipe that nobody has marked. No sheet clears a dig: local law, the
one-call centre and licensed people decide.
"""

import tempfile
from pathlib import Path

import matplotlib.pyplot as plt
import pypdfium2

import leakgeo
from leakgeo import datasets

result = leakgeo.clearance(leakgeo.locate(datasets.in_feet()))
for hold in result["holds"]["message"]:
    print("Hold:", hold)

# %%
# The sheet is a page of ``report.pdf``, drawn here as a picture.

with tempfile.TemporaryDirectory() as folder:
    leakgeo.report(result, out=folder, units="us")
    with pypdfium2.PdfDocument(Path(folder) / "report.pdf") as report:
        pages = [page.get_textpage().get_text_bounded() for page in report]
        place = next(i for i, text in enumerate(pages) if "Dig sheet" in text)
        sheet = report[place].render(scale=2.0).to_pil()

figure, axes = plt.subplots(figsize=(4.2, 5.6), dpi=200, layout="constrained")
axes.imshow(sheet)
axes.axis("off")
axes.set_title("Dig sheet of a simulated line", fontsize="medium")
plt.show()
