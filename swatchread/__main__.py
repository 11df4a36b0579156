"""`python -m swatchread` does what `swatchread` does."""

from swatchread.cli.main import start

if __name__ == "__main__":
    start()
