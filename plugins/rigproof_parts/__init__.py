"""Part models: the strain that a load must give, by theory, with the part's own uncertainty."""
