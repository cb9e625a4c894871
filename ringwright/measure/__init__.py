"""What many readings say together: gauge studies, control charts, capability. Pure."""
