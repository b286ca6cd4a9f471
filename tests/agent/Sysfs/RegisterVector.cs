namespace Cardassay.Agent.Tests.Sysfs;

/// <summary>Registers of one card as a kernel showed them, from public lists, bug reports and read-outs.</summary>
public sealed record RegisterVector(string Name, string Cid, string Csd, string? Scr, string? Ssr, long SizeBytes, string Serial, string Type = "SD", string? Revision = null)
{
    /// <summary>The card in slot 0 of a made-up board.</summary>
    internal FixtureTree ToTree()
    {
        const string device = "sys/block/mmcblk0/device";
        FixtureTree tree = new FixtureTree()
            .Text($"{device}/type", Type).Text($"{device}/cid", Cid).Text($"{device}/csd", Csd).Text($"{device}/serial", Serial)
            .Text("sys/block/mmcblk0/size", (SizeBytes / 512).ToString(System.Globalization.CultureInfo.InvariantCulture))
            .Text("sys/block/mmcblk0/dev", "179:0");
        if (Scr is not null)
        {
            tree.Text($"{device}/scr", Scr);
        }

        if (Revision is not null)
        {
            tree.Text($"{device}/rev", Revision);
        }

        if (Ssr is not null)
        {
            tree.Text($"{device}/ssr", Ssr);
        }

        return tree;
    }

    public override string ToString() => Name;
}
