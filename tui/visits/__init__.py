"""A visit without its screen: the form, its fields and sheets, the plan in lines, closing."""
