using System.Diagnostics;
using System.Globalization;

namespace Cardassay.Benchmarks;

/// <summary>A compressed-memory block device of our own (zram), made and removed; where the kernel has none, a loop device on memory.</summary>
internal sealed class ScratchDevice : IDisposable
{
    private const string Control = "/sys/class/zram-control";

    private readonly string? _zram;
    private readonly string? _file;

    public ScratchDevice(long sizeBytes)
    {
        if (File.Exists(Control + "/hot_add"))
        {
            _zram = File.ReadAllText(Control + "/hot_add").Trim();
            File.WriteAllText($"/sys/block/zram{_zram}/disksize", sizeBytes.ToString(CultureInfo.InvariantCulture));
            Path = $"/dev/zram{_zram}";
            What = "zram, " + File.ReadAllText($"/sys/block/zram{_zram}/comp_algorithm").Trim();
            return;
        }

        _file = $"/dev/shm/cardassay-benchmark-{Environment.ProcessId}.img";
        using (FileStream stream = File.Create(_file))
        {
            stream.SetLength(sizeBytes);
        }

        Path = Tool.Run("losetup", "--find", "--show", _file).Trim();
        What = "loop device on tmpfs";
    }

    public string Path { get; }

    /// <summary>What it is, for the report.</summary>
    public string What { get; }

    public void Dispose()
    {
        if (_zram is not null)
        {
            File.WriteAllText(Control + "/hot_remove", _zram);
            return;
        }

        Tool.Run("losetup", "--detach", Path);
        File.Delete(_file!);
    }
}

/// <summary>Runs a system tool.</summary>
internal static class Tool
{
    public static string Run(string name, params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(name, arguments) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        string output = process.StandardOutput.ReadToEnd();
        string errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        return process.ExitCode == 0 ? output + errors : throw new InvalidOperationException($"{name}: {errors}");
    }
}
