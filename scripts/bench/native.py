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
        depth = np.uint16 if command.get("depth") == 16 else np.uint8
        loaded[key] = np.fromfile(key, dtype=depth, count=width * height * count).reshape(count, height, width)
    return loaded[key]


def threshold_map(stack, sigmas=4.5, noise_share=1.0):
    part = stack[:64].astype(np.float32)
    sd = np.maximum(part.std(axis=0), 0.5 * part.std(axis=0).mean())
    limit = np.ceil(part.mean(axis=0) + sigmas * noise_share * sd)
    return np.clip(limit, 0, np.iinfo(stack.dtype).max).astype(stack.dtype)


def scan_dense(command):
    stack = frames(command)
    limit = threshold_map(stack)
    for frame in stack:
        yield lambda: cv2.connectedComponentsWithStats(cv2.compare(frame, limit, cv2.CMP_GT), connectivity=8)


# The steps below write into arrays made beforehand, which is several times faster here than letting OpenCV make them.
def scan_sparse(command):
    stack = frames(command)
    limit = threshold_map(stack)
    mask = np.empty(stack.shape[1:], np.uint8)
    for frame in stack:
        yield lambda: cv2.findNonZero(cv2.compare(frame, limit, cv2.CMP_GT, mask))


def scan_matched(command):
    """The fastest smoothing of 5 x 5 that OpenCV has for the depth: GaussianBlur for 8 bit, sepFilter2D for 16."""
    stack = frames(command)
    limit = threshold_map(stack, 5, 0.22)
    smooth = np.empty_like(stack[0])
    mask = np.empty(stack.shape[1:], np.uint8)
    weights = np.array([1, 2, 2, 2, 1], np.float32) / 8
    for frame in stack:
        if stack.dtype == np.uint8:
            yield lambda: cv2.findNonZero(
                cv2.compare(cv2.GaussianBlur(frame, (5, 5), 1.3, smooth), limit, cv2.CMP_GT, mask)
            )
        else:
            yield lambda: cv2.findNonZero(
                cv2.compare(cv2.sepFilter2D(frame, -1, weights, weights, smooth), limit, cv2.CMP_GT, mask)
            )


def background(command):
    """Running level and variance, as `accumulateWeighted` keeps them."""
    stack = frames(command)
    level = stack[0].astype(np.float32)
    variance = np.full_like(level, 2)
    off = np.empty_like(level)
    square = np.empty_like(level)

    def update(frame):
        cv2.subtract(frame, level, off, dtype=cv2.CV_32F)
        cv2.multiply(off, off, square)
        cv2.accumulateWeighted(frame, level, 0.05)
        cv2.accumulateWeighted(square, variance, 0.05)

    for frame in stack:
        yield lambda: update(frame)


def background_sums(command):
    stack = frames(command)
    total = np.zeros(stack.shape[1:], np.float32)
    squares = np.zeros_like(total)

    def update(frame):
        cv2.accumulate(frame, total)
        cv2.accumulateSquare(frame, squares)

    for frame in stack:
        yield lambda: update(frame)


def remap(command):
    width, height, channels = command["width"], command["height"], command["channels"]
    source = np.fromfile(command["file"], np.uint8).reshape(-1, height, width, channels)
    places = np.fromfile(command["map"], np.float32).reshape(2, height, width)
    fixed = cv2.convertMaps(places[0], places[1], cv2.CV_16SC2)
    out = np.empty_like(source[0])
    for _ in range(command["count"]):
        for image in source:
            yield lambda: cv2.remap(image, fixed[0], fixed[1], cv2.INTER_LINEAR, out, cv2.BORDER_CONSTANT)


def decode_png(command):
    encoded = [cv2.imencode(".png", frame)[1] for frame in frames(command)]
    for data in encoded:
        yield lambda: cv2.imdecode(data, cv2.IMREAD_UNCHANGED)


def calibrate(command):
    board = json.load(open(command["file"]))
    grid = np.array([[x, y, 0] for y in range(board["rows"]) for x in range(board["columns"])], np.float32)
    grid *= board["squareM"]
    views = [np.array(v, np.float32).reshape(-1, 1, 2) for v in board["views"]]
    flags = {"LU": cv2.CALIB_USE_LU, "SVD": 0}[command["way"]]
    for _ in range(command["count"]):
        yield lambda: cv2.calibrateCamera([grid] * len(views), views, (640, 480), None, None, flags=flags)


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
    "scan_matched": scan_matched,
    "background": background,
    "background_sums": background_sums,
    "remap": remap,
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
