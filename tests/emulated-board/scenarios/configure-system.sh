# configure-system: runs the scripts of the unpacked distribution on the own disk, as its own package manager would have on a board.
own_disk || exit 1
mount -t proc proc /mnt/proc
mount -t devtmpfs dev /mnt/dev
export DEBIAN_FRONTEND=noninteractive DEBCONF_NONINTERACTIVE_SEEN=true LC_ALL=C.UTF-8 PATH=/usr/sbin:/usr/bin:/sbin:/bin
busybox chroot /mnt /usr/bin/dpkg --force-unsafe-io --configure -a || exit 1
mark configured
unset PATH; export PATH=/bin:/sbin
umount /mnt/dev /mnt/proc
umount /mnt && sync
