"""What a general-purpose recogniser says of the letters in `crates/metrics/model/letters.png`.

    python tests/reference/letters.py FOLDER

FOLDER is where `pip download --no-deps rapidocr-onnxruntime==1.4.4` was unpacked: the wheel carries the
weights (PP-OCRv4, a line recogniser of many scripts, Apache-2.0). Needs numpy, Pillow and onnxruntime.
Each cell is shown as a line of one letter, made taller to the 48 rows that the weights want.
"""

import json
import pathlib
import string
import sys

import numpy as np
import onnxruntime
from PIL import Image

HERE = pathlib.Path(__file__).parent
ROWS, COLUMNS, HEIGHT, WIDTH = 50, 40, 48, 320


def line(cell):
    """A cell as the recogniser wants it: -1 to 1, three channels, filled up to the right."""
    width = round(COLUMNS * HEIGHT / ROWS)
    grey = np.asarray(Image.fromarray(cell).resize((width, HEIGHT), Image.Resampling.BILINEAR))
    out = np.zeros((3, HEIGHT, WIDTH), np.float32)
    out[:, :, :width] = grey / 127.5 - 1
    return out


def main():
    weights = pathlib.Path(sys.argv[1]) / "rapidocr_onnxruntime/models/ch_PP-OCRv4_rec_infer.onnx"
    session = onnxruntime.InferenceSession(str(weights), providers=["CPUExecutionProvider"])
    characters = session.get_modelmeta().custom_metadata_map["character"].splitlines()
    sheet = np.asarray(Image.open(HERE / "../../crates/metrics/model/letters.png"))
    name = session.get_inputs()[0].name
    columns = [[1 + characters.index(c) for c in (small, small.upper())] for small in string.ascii_lowercase]
    among, read = "", ""
    for y in range(0, sheet.shape[0], ROWS):
        for x in range(0, sheet.shape[1], COLUMNS):
            p = session.run(None, {name: line(sheet[y : y + ROWS, x : x + COLUMNS])[None]})[0][0]
            among += string.ascii_lowercase[int(np.argmax([p[:, at].max() for at in columns]))]
            said = [k for k in p.argmax(1) if k > 0]
            char = characters[said[0] - 1] if said and said[0] <= len(characters) else "."
            read += char if len(char) == 1 else "."
    out = {"library": "rapidocr-onnxruntime 1.4.4", "weights": weights.name, "among_letters": among, "read": read}
    (HERE / "letters/rapidocr.json").write_text(json.dumps(out, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    truth = string.ascii_lowercase * (sheet.shape[0] // ROWS)
    for what, said in (("among a to z", among), ("any character, case aside", read)):
        print(what, np.mean([a == b.lower() for a, b in zip(truth, said)]))


if __name__ == "__main__":
    main()
