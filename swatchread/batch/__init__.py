"""Many photos at once: which ones, in processes of their own, past bad ones, and on from where it stopped."""
