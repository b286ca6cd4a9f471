namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// What this machine must have. A machine without the emulator skips these tests and says what to install;
/// with `CARDASSAY_REQUIRE_EMULATOR=1` (build machines) that is a failure instead.
/// </summary>
public static class HostTools
{
    private const string Install =
        "apt-get install -y --no-install-recommends qemu-system-arm cpio clang llvm " +
        "binutils-aarch64-linux-gnu libgcc-12-dev-arm64-cross libc6-dev-arm64-cross";

    private static readonly string[] Needed =
        ["qemu-system-aarch64", "cpio", "apt-get", "dpkg-deb", "mkfs.ext4", "clang", "llvm-objdump", "aarch64-linux-gnu-ld"];

    /// <summary>Skips the calling test unless all tools are there.</summary>
    public static void Require()
    {
        string[] missing = [.. Needed.Where(tool => Find(tool) is null)];
        if (missing.Length > 0)
        {
            Unavailable($"{string.Join(", ", missing)} not found; install with: {Install}");
        }
    }

    /// <summary>Skips the calling test, or fails it where the emulator is required.</summary>
    public static void Unavailable(string reason)
    {
        if (Environment.GetEnvironmentVariable("CARDASSAY_REQUIRE_EMULATOR") == "1")
        {
            Assert.Fail(reason);
        }

        Skip.If(true, reason);
    }

    private static string? Find(string tool) =>
        $"{Environment.GetEnvironmentVariable("PATH")}:/usr/sbin:/sbin".Split(':', StringSplitOptions.RemoveEmptyEntries)
            .Select(folder => Path.Combine(folder, tool))
            .FirstOrDefault(File.Exists);
}
