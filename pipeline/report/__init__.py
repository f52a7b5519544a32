"""What staff and athletes hold in their hands: pages, tables, the decision sheet."""
