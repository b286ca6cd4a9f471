using Cardassay.Registers;

namespace Cardassay.Agent.Sysfs;

/// <summary>Finds the serial number of a device that shows no registers.</summary>
public static class DeviceSerial
{
    /// <summary>
    /// `serial` of the block device (virtio) or of its `device` (NVMe, card), else of the USB device above it, which is the
    /// reader's serial, not the card's. Null when there is none.
    /// </summary>
    public static string? Read(SysfsTree tree, string diskName)
    {
        string disk = $"sys/block/{diskName}";
        return Text(tree, $"{disk}/serial") ?? Text(tree, $"{disk}/device/serial") ?? OfUsbDevice(tree, disk);
    }

    private static string? OfUsbDevice(SysfsTree tree, string disk)
    {
        string? folder = tree.RealPath($"{disk}/device");
        while (folder is not null && folder.Contains('/'))
        {
            // Every USB device, and nothing above a disk but a USB device, has idVendor (Documentation/ABI/stable/sysfs-bus-usb).
            if (tree.Exists($"{folder}/idVendor"))
            {
                return Text(tree, $"{folder}/serial");
            }

            folder = folder[..folder.LastIndexOf('/')];
        }

        return null;
    }

    private static string? Text(SysfsTree tree, string inside) =>
        TextFile.Read(tree, inside) is { State: ReadingState.Known, Value: { } text } && text.Trim().Length > 0 ? text.Trim() : null;
}
