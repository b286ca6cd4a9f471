using Cardassay.Trials;

namespace Cardassay.Agent.Sysfs;

/// <summary>Tells how a disk is attached.</summary>
public static class AttachmentReader
{
    /// <summary>
    /// Slot: on a card bus with `device/type` SD. Fixed: type MMC (soldered) and every disk that is not a card. Reader: a USB
    /// device whose medium is `removable`. Unknown: on a card bus, but the type could not be read.
    /// </summary>
    public static Attachment Read(SysfsTree tree, string diskName)
    {
        if (CardFiles.HasRegisters(tree, diskName))
        {
            // "SD" and "SDcombo" are cards; "MMC" is soldered or an old card: treated as soldered, which asks for more care.
            return TextFile.Read(tree, $"sys/block/{diskName}/device/type") switch
            {
                { IsKnown: true, Value: "SD" or "SDcombo" } => Attachment.Slot,
                { IsKnown: true } => Attachment.Fixed,
                _ => Attachment.Unknown,
            };
        }

        string path = tree.RealPath($"sys/block/{diskName}/device") ?? tree.RealPath($"sys/block/{diskName}") ?? "";
        bool usb = path.Split('/').Any(part => part.StartsWith("usb", StringComparison.Ordinal));
        return usb && IsRemovable(tree, diskName) ? Attachment.Reader : Attachment.Fixed;
    }

    /// <summary>Whether the kernel calls the medium removable. An SD card in a slot reads 0 here.</summary>
    public static bool IsRemovable(SysfsTree tree, string diskName) =>
        TextFile.ReadNumber(tree, $"sys/block/{diskName}/removable") is { IsKnown: true, Value: 1 };
}
