"""Operations described, checked, run and chained."""
