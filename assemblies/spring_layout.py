def place_spring(out):
    pass
