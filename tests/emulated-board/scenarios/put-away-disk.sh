# put-away-disk: unmounts the board's disk, so that the host can read it.
umount /mnt
