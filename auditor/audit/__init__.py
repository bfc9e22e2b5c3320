"""Steps from table to table: trips, pairing, settings, blur, keepers, ledger."""
