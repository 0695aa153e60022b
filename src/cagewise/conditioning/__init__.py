"""From raw channels to signals that may be read: roles proven, quality judged, frame found."""
