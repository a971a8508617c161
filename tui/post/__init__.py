"""The post without its screen."""
