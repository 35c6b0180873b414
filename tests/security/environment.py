"""A program that says what environment it is given."""

import os

if __name__ == "__main__":
    print(*os.environ)
