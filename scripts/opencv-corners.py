#!/usr/bin/python3
"""Chessboard corners of OpenCV's public sample pairs, and OpenCV's own calibration of them, as a test fixture.

Needs Debian's python3-opencv and opencv-doc (the images left01.jpg ... right14.jpg; there is no number 10).
Usage: python3 scripts/opencv-corners.py [folder with the images] > tests/fixtures/opencv-chessboard/corners.json
"""
import json
import sys

import cv2
import numpy as np

FOLDER = sys.argv[1] if len(sys.argv) > 1 else "/usr/share/doc/opencv-doc/examples/data"
NUMBERS = [n for n in range(1, 15) if n != 10]
PATTERN = (9, 6)
SQUARE_MM = 25.0
SIZE = (640, 480)
SUBPIX = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.1)
UNTIL = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 300, 1e-12)

cv2.setNumThreads(1)


def corners(name):
    image = cv2.imread(f"{FOLDER}/{name}.jpg", cv2.IMREAD_GRAYSCALE)
    found, px = cv2.findChessboardCorners(image, PATTERN)
    if not found:
        sys.exit(f"{name}: no chessboard found")
    return cv2.cornerSubPix(image, px, (5, 5), (-1, -1), SUBPIX)


left = [corners(f"left{n:02d}") for n in NUMBERS]
right = [corners(f"right{n:02d}") for n in NUMBERS]
board = np.zeros((PATTERN[0] * PATTERN[1], 3), np.float32)
board[:, :2] = np.mgrid[0 : PATTERN[0], 0 : PATTERN[1]].T.reshape(-1, 2) * SQUARE_MM
boards = [board] * len(NUMBERS)


def single(px):
    rms, k, d, _, _, sd, _, _ = cv2.calibrateCameraExtended(boards, px, SIZE, None, None, criteria=UNTIL)
    return k, d, {
        "rmsPx": rms,
        "lens": [k[0, 0], k[1, 1], k[0, 2], k[1, 2], *d.ravel().tolist()],
        "sigma": sd.ravel()[:9].tolist(),
    }


def pair(flags):
    rms, k1, d1, k2, d2, r, t, _, _ = cv2.stereoCalibrate(
        boards, left, right, kl.copy(), dl.copy(), kr.copy(), dr.copy(), SIZE, criteria=UNTIL, flags=flags
    )
    lens = lambda k, d: [k[0, 0], k[1, 1], k[0, 2], k[1, 2], *d.ravel().tolist()]
    return {
        "rmsPx": rms,
        "left": lens(k1, d1),
        "right": lens(k2, d2),
        "rotationVectorRad": cv2.Rodrigues(r)[0].ravel().tolist(),
        "translationMm": t.ravel().tolist(),
    }


kl, dl, leftResult = single(left)
kr, dr, rightResult = single(right)
json.dump(
    {
        "made": f"OpenCV {cv2.__version__}: findChessboardCorners, cornerSubPix window (5,5), 30 iterations, 0.1; "
        "calibrateCamera and stereoCalibrate run to 1e-12",
        "widthPx": SIZE[0],
        "heightPx": SIZE[1],
        "columns": PATTERN[0],
        "rows": PATTERN[1],
        "squareMm": SQUARE_MM,
        "views": [
            {
                "name": f"{n:02d}",
                "left": [round(float(x), 5) for x in l.ravel()],
                "right": [round(float(x), 5) for x in r.ravel()],
            }
            for n, l, r in zip(NUMBERS, left, right)
        ],
        "opencv": {
            "left": leftResult,
            "right": rightResult,
            "pairLensesHeld": pair(cv2.CALIB_FIX_INTRINSIC),
            "pairAllFree": pair(0),
        },
    },
    sys.stdout,
    indent=1,
)
