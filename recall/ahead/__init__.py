"""The work of the weeks ahead: what is asked for, what the rota gives, and how to level it."""
