using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Guard;

/// <summary>Where a device stands: what it is written to and what stands on that.</summary>
internal sealed class DevicePlace
{
    private readonly BlockDevices _devices;

    public DevicePlace(BlockDevices devices, string device, IReadOnlyList<MountTable> mounts)
    {
        _devices = devices;
        Device = device;
        Mounts = mounts;
        Chain = devices.ChainWritten(device, mounts[0]);
        Written = devices.DisksWritten(device, mounts[0]);
        Above = devices.ClosureAbove(Chain).ToHashSet(StringComparer.Ordinal);
    }

    /// <summary>Kernel name of the device.</summary>
    public string Device { get; }

    /// <summary>Mount tables, the own one first.</summary>
    public IReadOnlyList<MountTable> Mounts { get; }

    /// <summary>The device and what lies below it, as far as writing to it changes that.</summary>
    public IReadOnlyList<string> Chain { get; }

    /// <summary>The disks at the bottom of the chain.</summary>
    public IReadOnlyList<string> Written { get; }

    /// <summary>The disk to name to a person.</summary>
    public string Disk => Written.Count > 0 ? Written[0] : Device;

    /// <summary>Everything that stands on anything in the chain, the chain included.</summary>
    public IReadOnlySet<string> Above { get; }

    /// <summary>Every mount of anything above, once per mount point.</summary>
    public IEnumerable<(string Name, MountEntry Mount)> Mounted() =>
        Mounts.SelectMany(table => table.Entries)
            .Select(mount => (Name: _devices.DeviceOf(mount), Mount: mount))
            .Where(m => m.Name is not null && Above.Contains(m.Name))
            .Select(m => (m.Name!, m.Mount))
            .DistinctBy(m => (m.Item1, m.Mount.Point));

    /// <summary>Whether a device stands, through whatever lies between, loop files included, on a disk that would be written.</summary>
    public bool StandsOnWritten(string device) => _devices.ChainBelow(device, Mounts[0]).Any(Written.Contains);
}
