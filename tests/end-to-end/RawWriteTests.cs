using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>Overwriting is never a default: the refusals, on real loop devices, with the device unchanged afterwards.</summary>
[Collection("machine")]
public sealed class RawWriteTests : IDisposable
{
    private readonly Workshop _workshop = new();
    private readonly LoopDevice _device;

    public RawWriteTests() => _device = new LoopDevice(_workshop.Root, 64 << 20);

    private string Identity => JsonDocument.Parse(_workshop.Agent("identify", _device.Path, "--json").Output).RootElement.GetProperty("identity").GetString()!;

    [Fact]
    public void Measure_DeviceWithoutConsent_IsRefusedAndWritesNothing()
    {
        byte[] before = _device.ReadAll();
        Finished finished = _workshop.Agent("measure", _device.Path, "--plan", _workshop.Plan, "--allow-fixed-disk").Expect(2);
        Assert.Contains("--erase", finished.Errors, StringComparison.Ordinal);
        Assert.Contains("will be destroyed", finished.Errors, StringComparison.Ordinal);
        Assert.Equal(before, _device.ReadAll());
        Assert.Equal(0, _device.SectorsWritten);
    }

    [Fact]
    public void Measure_DeviceWithAnotherIdentity_IsRefused()
    {
        Finished finished = _workshop.Agent("measure", _device.Path, "--plan", _workshop.Plan, "--allow-fixed-disk", "--erase", "sd-of-another-card").Expect(2);
        Assert.Contains("sd-of-another-card", finished.Errors, StringComparison.Ordinal);
        Assert.Equal(0, _device.SectorsWritten);
    }

    [Fact]
    public void Measure_FixedDeviceWithoutItsFlag_IsRefused()
    {
        Finished finished = _workshop.Agent("measure", _device.Path, "--plan", _workshop.Plan, "--erase", Identity).Expect(2);
        Assert.Contains("--allow-fixed-disk", finished.Errors, StringComparison.Ordinal);
        Assert.Equal(0, _device.SectorsWritten);
    }

    [Fact]
    public void Measure_MountedDevice_IsRefusedWithConsentToo()
    {
        _device.Format();
        string identity = Identity;
        _device.Mount(Path.Combine(_workshop.Root, "mounted"));
        long written = _device.SectorsWritten;
        Finished finished = _workshop.Agent("measure", _device.Path, "--plan", _workshop.Plan, "--allow-fixed-disk", "--erase", identity).Expect(1);
        Assert.Contains("mounted", finished.Errors, StringComparison.Ordinal);
        Assert.InRange(_device.SectorsWritten - written, 0, 64); // the mounted file system may write its own journal, a plan would write 64 MiB
    }

    [Fact]
    public void Measure_DeviceWithConsent_MeasuresAndReadsBackWhatItWrote()
    {
        Finished finished = _workshop.Agent(
            "measure", _device.Path, "--plan", _workshop.Plan, "--allow-fixed-disk", "--erase", Identity, "--json").Expect(0);
        JsonElement[] trials = [.. JsonDocument.Parse(finished.Output).RootElement.GetProperty("trials").EnumerateArray()];
        Assert.Equal(11, trials.Length); // 4 kinds x 2 repetitions, the first reads after a write apart in each, and the first trial once more
        Assert.All(trials, t => Assert.True(t.GetProperty("valid").GetBoolean()));
        Assert.All(trials, t => Assert.True(t.GetProperty("contentKnown").GetBoolean()));
        long bytesWritten = JsonDocument.Parse(finished.Output).RootElement.GetProperty("bytesWritten").GetInt64();
        Assert.Equal(bytesWritten, _device.SectorsWritten * 512); // the kernel's own count
    }

    public void Dispose()
    {
        _device.Dispose();
        _workshop.Dispose();
    }
}
