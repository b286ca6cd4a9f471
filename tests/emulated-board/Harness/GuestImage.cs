namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// What a guest boots from: a distribution's arm64 kernel and a small root file system with the published agent, the guest's
/// first process and the scenarios in it.
/// </summary>
/// <param name="Kernel">Path of the kernel.</param>
/// <param name="Initramfs">Path of the root file system's archive.</param>
public sealed record GuestImage(string Kernel, string Initramfs)
{
    private static readonly Lazy<Task<GuestImage>> Once = new(MakeAsync);

    /// <summary>The image of this test run; skips the calling test where the machine cannot have one.</summary>
    public static Task<GuestImage> ObtainAsync() => Once.Value;

    private static async Task<GuestImage> MakeAsync()
    {
        HostTools.Require();
        string agent = await PublishedAgent.ObtainAsync();
        string build = Repository.At("tests", "emulated-board", "guest", "build-base");
        string foundation = await CacheFolder.ObtainAsync("base", CacheFolder.KeyOf(build), async partial =>
        {
            try
            {
                await HostCommand.RunAsync(build, partial);
            }
            catch (InvalidOperationException e)
            {
                HostTools.Unavailable($"the guest's packages cannot be fetched: {e.Message}");
            }
        });

        // What changes often goes into an archive of its own: the kernel unpacks one after the other.
        string overlay = Path.Combine(WorkFolder.Path, "overlay");
        Directory.CreateDirectory(Path.Combine(overlay, "bin"));
        Directory.CreateDirectory(Path.Combine(overlay, "scenarios"));
        Directory.CreateDirectory(Path.Combine(overlay, "plans"));
        Directory.CreateDirectory(Path.Combine(overlay, "system"));
        foreach (string file in new[] { "init", "control", "system/board.service", "system/masked-units" })
        {
            File.Copy(Repository.At("tests", "emulated-board", "guest", file), Path.Combine(overlay, file));
        }

        File.Copy(agent, Path.Combine(overlay, "bin", "cardassay-agent"));
        foreach (string scenario in Directory.GetFiles(Repository.At("tests", "emulated-board", "scenarios"), "*.sh"))
        {
            File.Copy(scenario, Path.Combine(overlay, "scenarios", Path.GetFileName(scenario)));
        }

        foreach (string plan in Directory.GetFiles(Repository.At("tests", "emulated-board", "plans")))
        {
            File.Copy(plan, Path.Combine(overlay, "plans", Path.GetFileName(plan)));
        }

        string initramfs = Path.Combine(WorkFolder.Path, "initramfs");
        await HostCommand.RunAsync(
            "/bin/bash",
            "-c",
            "set -euo pipefail; cd \"$1\"; find . | cpio -o -H newc --quiet -R 0:0 | gzip -1 | cat \"$2\" - > \"$3\"",
            "overlay",
            overlay,
            Path.Combine(foundation, "base.cpio.gz"),
            initramfs);
        return new GuestImage(Path.Combine(foundation, "vmlinuz"), initramfs);
    }
}
