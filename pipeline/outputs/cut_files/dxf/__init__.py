"""DXF: the template made by ezdxf, entities, reading back and verifying."""
