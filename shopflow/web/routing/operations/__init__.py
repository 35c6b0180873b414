"""Operations: planning a head's routing, doing its steps, signing them off."""
