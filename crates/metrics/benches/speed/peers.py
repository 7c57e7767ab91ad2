"""Widely used libraries doing single steps of a reading, for the speed comparison.

Reads one JSON object a line: first the pixels, then the name of a library and of a step; answers
each with one line: the versions, then the processor seconds that the step took.
"""

import json
import sys
import time

import cv2
import numpy as np
import skimage
from skimage import color, filters, measure, transform

cv2.setNumThreads(1)
cv2.ocl.setUseOpenCL(False)


def pixels(given, channels=1):
    raw = np.fromfile(given["file"], dtype=np.uint8)
    shape = (given["height"], given["width"]) + ((channels,) if channels > 1 else ())
    return raw.reshape(shape)


def to_photo(given, grey):
    """The 3 x 3 matrix from pixels of the flat sheet to pixels of the photograph."""
    height, width = grey.shape
    flat = np.float32([(0, 0), (width, 0), (width, height), (0, height)])
    return cv2.getPerspectiveTransform(flat, np.float32(given["corners"]))


def steps(given):
    photo = pixels(given["photo"], 3)
    grey = pixels(given["grey"])
    mask = pixels(given["mask"])
    matrix = to_photo(given, grey)
    height, width = grey.shape
    window, k, spread = given["window"], given["k"], given["range"]

    def opencv_sauvola():
        return cv2.ximgproc.niBlackThreshold(
            grey, 255, cv2.THRESH_BINARY_INV, window, k,
            binarizationMethod=cv2.ximgproc.BINARIZATION_SAUVOLA, r=spread)

    def opencv_label():
        return cv2.connectedComponents(mask, connectivity=8, ltype=cv2.CV_32S)[0] - 1

    def opencv_warp():
        flat = cv2.warpPerspective(
            photo, matrix, (width, height), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE)
        return cv2.cvtColor(flat, cv2.COLOR_RGB2GRAY)

    def scikit_sauvola():
        return grey <= filters.threshold_sauvola(grey, window_size=window, k=k, r=spread)

    def scikit_label():
        return measure.label(mask, connectivity=2, return_num=True)[1]

    def scikit_warp():
        flat = transform.warp(
            photo, transform.ProjectiveTransform(matrix), output_shape=(height, width), order=3,
            mode="edge", preserve_range=True)
        return color.rgb2gray(flat.astype(np.uint8))

    return {
        "opencv": {"sauvola": opencv_sauvola, "label": opencv_label, "warp": opencv_warp},
        "scikit": {"sauvola": scikit_sauvola, "label": scikit_label, "warp": scikit_warp},
    }


def main():
    known = steps(json.loads(sys.stdin.readline()))
    versions = {"opencv": cv2.__version__, "scikit-image": skimage.__version__}
    print(json.dumps(versions), flush=True)
    for line in sys.stdin:
        asked = json.loads(line)
        step = known[asked["library"]][asked["step"]]
        started = time.process_time()
        result = step()
        answer = {"seconds": time.process_time() - started}
        if asked["step"] == "label":
            answer["pieces"] = int(result)
        print(json.dumps(answer), flush=True)


main()
