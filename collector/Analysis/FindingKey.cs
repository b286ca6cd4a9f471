using System.Security.Cryptography;
using System.Text;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>A short name for one finding of the delivery, by which a person acknowledges it. Other values make it another finding.</summary>
public static class FindingKey
{
    /// <summary>8 hex digits.</summary>
    public static string Of(Finding finding)
    {
        ArgumentNullException.ThrowIfNull(finding);
        string text = string.Join('\n', [finding.Id, .. finding.Values.Select(v => $"{v.Name}={v.Value}")]);
        return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text)).AsSpan(0, 4));
    }
}
