"""The reference side of `npm run bench`: the same steps on the same frames by OpenCV and SciPy, one thread.

Reads one JSON command a line from standard input and answers with one JSON line: the time of each repetition in
milliseconds. The caller interleaves these with its own runs, so that both see the same machine.
"""

import json
import os
import sys
import time

os.environ["OPENBLAS_NUM_THREADS"] = "1"
os.environ["OMP_NUM_THREADS"] = "1"

import cv2  # noqa: E402
import numpy as np  # noqa: E402

cv2.setNumThreads(1)
loaded = {}


def frames(command):
    key = command["file"]
    if key not in loaded:
        width, height, count = command["width"], command["height"], command["count"]
        loaded[key] = np.fromfile(key, dtype=np.uint8, count=width * height * count).reshape(count, height, width)
    return loaded[key]


def threshold_map(stack):
    mean = stack[:64].astype(np.float32).mean(axis=0)
    sd = stack[:64].astype(np.float32).std(axis=0)
    return np.clip(np.ceil(mean + 4.5 * np.maximum(sd, 0.6)), 0, 255).astype(np.uint8)


def scan_dense(command):
    stack = frames(command)
    limit = threshold_map(stack)
    for frame in stack:
        yield lambda: cv2.connectedComponentsWithStats(cv2.compare(frame, limit, cv2.CMP_GT), connectivity=8)


def scan_sparse(command):
    stack = frames(command)
    limit = threshold_map(stack)
    for frame in stack:
        yield lambda: cv2.findNonZero(cv2.compare(frame, limit, cv2.CMP_GT))


def decode_png(command):
    encoded = [cv2.imencode(".png", frame)[1] for frame in frames(command)]
    for data in encoded:
        yield lambda: cv2.imdecode(data, cv2.IMREAD_UNCHANGED)


def calibrate(command):
    board = json.load(open(command["file"]))
    grid = np.array([[x, y, 0] for y in range(board["rows"]) for x in range(board["columns"])], np.float32)
    grid *= board["squareM"]
    views = [np.array(v, np.float32).reshape(-1, 1, 2) for v in board["views"]]
    for _ in range(command["count"]):
        yield lambda: cv2.calibrateCamera([grid] * len(views), views, (640, 480), None, None, flags=cv2.CALIB_USE_LU)


def place(command):
    from scipy.optimize import least_squares

    data = json.load(open(command["file"]))
    for bundle in data:
        origin = np.array(bundle["origins"])
        direction = np.array(bundle["directions"])

        def residual(x, origin=origin, direction=direction):
            to = x - origin
            along = np.einsum("ij,ij->i", to, direction)
            return ((to - along[:, None] * direction) / along[:, None]).ravel()

        start = np.array(bundle["start"])
        yield lambda: least_squares(residual, start, method="lm")


STEPS = {
    "scan_dense": scan_dense,
    "scan_sparse": scan_sparse,
    "decode_png": decode_png,
    "calibrate": calibrate,
    "place": place,
}

for line in sys.stdin:
    command = json.loads(line)
    times = []
    for step in STEPS[command["step"]](command):
        begin = time.perf_counter()
        step()
        times.append((time.perf_counter() - begin) * 1e3)
    print(json.dumps(times), flush=True)
