"""The measuring room: audio in, numbers out. Knows no database and no web; usable alone from a notebook.

Matrix products here are small and run beside other threads, where BLAS's own threads only get in the way; the
setting has effect where numpy is not yet loaded.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
