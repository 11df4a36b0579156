"""The changes of the archive's tables, one module a revision; none of them is edited once it was released."""
