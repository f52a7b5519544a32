"""What a grid is: where its headers stand, which kind of export it holds, what columns mean."""
